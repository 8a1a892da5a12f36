import type { FastifyReply, FastifyRequest } from 'fastify';

/** A body whose answer is known already is read on this far, because many clients listen only when they have sent all. */
const DRAIN_BYTES = 32 * 1024 * 1024;

/** Reads on what a client is still sending before it is answered; whoever has much more to send is cut off instead. */
export async function drain({ raw }: FastifyRequest, reply: FastifyReply): Promise<void> {
  raw.unpipe();
  if (raw.complete || raw.destroyed) {
    raw.resume();
    return;
  }
  // Who read the body so far would pause it again with every chunk.
  raw.removeAllListeners('data');
  let read = 0;
  await new Promise<void>((done) => {
    raw.on('data', (chunk: Buffer) => {
      read += chunk.byteLength;
      if (read > DRAIN_BYTES) done();
    });
    raw.once('end', done).once('close', done).once('error', () => done());
    raw.resume();
  });
  if (!raw.complete) reply.header('connection', 'close');
}
