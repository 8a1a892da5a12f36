import { createServer } from 'node:http';
import Fastify from 'fastify';
import { Server } from 'socket.io';
import { io, type Socket } from 'socket.io-client';
import postgres from 'postgres';
import type { FilmEvent, JoinAnswer } from '../../server/live/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig } from '../fixtures/rig.ts';
import type { Figure } from './run.ts';

const WARM_UP = 30;
const ROUNDS = 300;
const BAR = 2;
const CHANNEL = 'bench_bare';

/**
 * From posting a note to another client having it, against the least that could do it: one insert with its NOTIFY, and
 * the same websocket library telling one client. Beside it, the least that a route can do: the same behind one HTTP
 * request and one statement that asks who is asking. All take turns in one run, so that all meet the machine as it is.
 */
export default async function notesBench(): Promise<Figure[]> {
  const rig = await startRig();
  const bare = await startBare(rig.ground.databaseUrl);
  const reader: Socket = io(rig.url, { extraHeaders: { cookie: rig.as('editor').cookie }, transports: ['websocket'], forceNew: true });
  try {
    const clip = await addClip(rig);
    const { lastSeq } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    const joined = (await reader.emitWithAck('join', { film: rig.film, after: lastSeq, client: 'bench' })) as JoinAnswer;
    if (!joined.ok) throw new Error(`The reader could not join: ${joined.code}`);
    const director = rig.as('director');

    const note = async (n: number): Promise<number> => {
      const text = `Note ${n}`;
      const from = performance.now();
      const had = heard<FilmEvent>(reader, 'event', (event) => event.rows.notes?.[0]?.text === text).then(() => performance.now() - from);
      const answer = await director.post(rig.at('/notes'), { clipId: clip.id, in: n % 240, text });
      if (answer.status !== 201) throw new Error(`The note was refused: ${JSON.stringify(answer.body)}`);
      return had;
    };

    const notes: number[] = [];
    const bares: number[] = [];
    const routes: number[] = [];
    for (let n = 0; n < WARM_UP + ROUNDS; n++) {
      const [whole, least, route] = [await note(n), await bare.round(`Note ${n}`), await bare.route(`Routed note ${n}`)];
      if (n < WARM_UP) continue;
      notes.push(whole);
      bares.push(least);
      routes.push(route);
    }
    const [whole, least, route] = [p95(notes), p95(bares), p95(routes)];
    return [
      { figure: 'note to the other client, p95 / bare insert + NOTIFY + websocket, p95', value: round(whole / least), unit: 'times the time', bar: BAR, ok: whole / least <= BAR },
      { figure: 'note to the other client, p95 / the same behind one HTTP request and one statement of access, p95', value: round(whole / route), unit: 'times the time', bar: null, ok: null },
      { figure: 'note to the other client, p95', value: round(whole), unit: 'ms', bar: null, ok: null },
      { figure: 'bare insert + NOTIFY + websocket, p95', value: round(least), unit: 'ms', bar: null, ok: null },
    ];
  } finally {
    reader.disconnect();
    await bare.close();
    await rig.close();
  }
}

async function startBare(databaseUrl: string) {
  const sql = postgres(databaseUrl, { max: 2, onnotice: () => {} });
  await sql`CREATE TABLE bench_note (id bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY, text text NOT NULL)`;
  const http = createServer();
  const server = new Server(http, { transports: ['websocket'], serveClient: false });
  await new Promise<void>((done) => http.listen(0, '127.0.0.1', done));
  await sql.listen(CHANNEL, (text) => server.emit('note', text));
  const { port } = http.address() as { port: number };
  const client = io(`http://127.0.0.1:${port}`, { transports: ['websocket'], forceNew: true });
  await new Promise<void>((done) => client.on('connect', done));

  const insert = (text: string) => sql`WITH written AS (INSERT INTO bench_note (text) VALUES (${text}) RETURNING text) SELECT pg_notify(${CHANNEL}, text) FROM written`;
  const app = Fastify();
  app.post<{ Body: { text: string } }>('/', async ({ body }) => {
    await sql`SELECT u.id, m.role FROM "user" u JOIN member m ON m.user_id = u.id LIMIT 1`;
    await insert(body.text);
    return {};
  });
  const address = await app.listen({ host: '127.0.0.1', port: 0 });
  const timed = async (text: string, post: () => Promise<unknown>): Promise<number> => {
    const from = performance.now();
    const had = heard<string>(client, 'note', (told) => told === text).then(() => performance.now() - from);
    await post();
    return had;
  };
  return {
    round: (text: string) => timed(text, () => insert(text)),
    route: (text: string) => timed(text, async () => (await fetch(address, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ text }) })).json()),
    async close(): Promise<void> {
      client.disconnect();
      await app.close();
      await server.close();
      await sql.end();
    },
  };
}

function heard<T>(socket: Socket, name: string, wanted: (told: T) => boolean): Promise<void> {
  return new Promise((done) => {
    const hear = (told: T) => {
      if (!wanted(told)) return;
      socket.off(name, hear);
      done();
    };
    socket.on(name, hear);
  });
}

const p95 = (times: number[]): number => times.toSorted((a, b) => a - b)[Math.ceil(times.length * 0.95) - 1]!;
const round = (value: number): number => Math.round(value * 100) / 100;
