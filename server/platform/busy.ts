import type { FastifyReply, FastifyRequest } from 'fastify';
import { Refusal } from './errors.ts';

/** A server whose loop is as late as this on average, in two intervals of this length one after the other, is too busy. */
export const BUSY_MS = 5000;
const RETRY_SECONDS = 10;

/**
 * What @fastify/under-pressure is told. It judges by the last interval, so after one stall (a machine that was busy
 * elsewhere, a laptop that slept) it would refuse everybody for an interval more, although the stall is over when it is
 * noticed, and no page would load. So one late interval lets requests through, and so does one in which the loop was
 * never measured, which counts as endless there.
 */
export function busyOptions() {
  let last = { delay: 0, seenAt: -Infinity, inARow: 0 };
  return {
    maxEventLoopDelay: BUSY_MS,
    sampleInterval: BUSY_MS,
    /** Asked for each request while the last interval was late. */
    pressureHandler: async (_request: FastifyRequest, reply: FastifyReply, _type: string, delay: number | undefined): Promise<void> => {
      if (delay === undefined || !Number.isFinite(delay)) return;
      const now = performance.now();
      if (delay !== last.delay) last = { delay, seenAt: now, inARow: now - last.seenAt < 2 * BUSY_MS ? last.inARow + 1 : 1 };
      if (last.inARow < 2) return;
      reply.header('retry-after', RETRY_SECONDS);
      throw new Refusal('overloaded');
    },
  };
}
