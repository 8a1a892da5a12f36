import { io, type Socket } from 'socket.io-client';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import type { BrowserToServer, FilmEvent, JoinAnswer, ServerToBrowser } from '../../server/live/contract.ts';
import { write } from '../../server/platform/write.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';

type Client = Socket<ServerToBrowser, BrowserToServer>;
let rig: Rig;
const open: Client[] = [];

beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());
afterEach(() => {
  for (const socket of open.splice(0)) socket.disconnect();
});

function connect(person: Person): Client {
  const socket: Client = io(rig.url, { extraHeaders: { cookie: rig.as(person).cookie }, transports: ['websocket'], forceNew: true, reconnection: false });
  open.push(socket);
  return socket;
}

function join(socket: Client, after: number): Promise<JoinAnswer> {
  return new Promise((done) => socket.emit('join', { film: rig.film, after, client: 'test' }, done));
}

function until(socket: Client, wanted: (event: FilmEvent) => boolean): Promise<FilmEvent[]> {
  const heard: FilmEvent[] = [];
  return new Promise((done) =>
    socket.on('event', (event) => {
      heard.push(event);
      if (wanted(event)) done(heard);
    }),
  );
}

/** A change through the write path, of the size of a real one. */
function change(n: number): Promise<number> {
  return write(rig.db, { userId: null, client: null }, rig.film, async () => ({ kind: 'film.changed', subject: String(n), rows: {}, result: n }));
}

describe('sockets', () => {
  it('turn away who is not signed in', async () => {
    const error = await new Promise<Error>((done) => connect('nobody').on('connect_error', done));
    expect(error.message).toBe('not-signed-in');
  });

  it('turn away a page of another site', async () => {
    const socket: Client = io(rig.url, {
      extraHeaders: { cookie: rig.as('director').cookie, origin: 'https://elsewhere.example' },
      transports: ['websocket'],
      forceNew: true,
      reconnection: false,
    });
    open.push(socket);
    await expect(new Promise((done, fail) => socket.on('connect', () => done('in')).on('connect_error', fail))).rejects.toThrow();
  });

  it('do not let a stranger follow a film', async () => {
    expect(await join(connect('stranger'), 0)).toEqual({ ok: false, code: 'not-allowed' });
  });

  it('do not show a viewer what only the crew sees', async () => {
    const viewer = connect('viewer');
    const director = connect('director');
    await Promise.all([join(viewer, 0), join(director, 0)]);
    const select = { id: 's', clipId: 'c', in: 0, outExclusive: 5, circled: false, label: '', madeById: 'x', madeAt: '', removedAt: null };
    const heard = Promise.all([until(viewer, ({ subject }) => subject === 's'), until(director, ({ subject }) => subject === 's')]);
    await write(rig.db, { userId: null, client: null }, rig.film, async () => ({ kind: 'select.made', subject: 's', rows: { selects: [select] }, result: null }));
    const [atViewer, atDirector] = await heard;
    expect(atViewer.at(-1)?.rows).toEqual({});
    expect(atDirector.at(-1)?.rows.selects).toHaveLength(1);
    expect(atViewer.at(-1)?.seq).toBe(atDirector.at(-1)?.seq);
  });

  it('stop telling somebody who was taken off the film', async () => {
    const leaver = await rig.join('assistant', 'Leaver');
    const socket: Client = io(rig.url, { extraHeaders: { cookie: leaver.cookie }, transports: ['websocket'], forceNew: true, reconnection: false });
    open.push(socket);
    await join(socket, 0);
    const reload = new Promise((done) => socket.on('reload', done));
    expect((await rig.as('director').del(rig.at(`/members/${leaver.userId}`))).status).toBe(200);
    await reload;
    const later: FilmEvent[] = [];
    socket.on('event', (event) => later.push(event));
    const witness = connect('director');
    await join(witness, 0);
    const heard = until(witness, ({ subject }) => subject === 'after-leaving');
    await write(rig.db, { userId: null, client: null }, rig.film, async () => ({ kind: 'film.changed', subject: 'after-leaving', rows: {}, result: null }));
    await heard;
    expect(later.filter(({ subject }) => subject === 'after-leaving')).toEqual([]);
    expect(await join(socket, 0)).toEqual({ ok: false, code: 'not-allowed' });
  });
});

describe('events', () => {
  it('reach a client that is cut off at random during 1,000 changes: none lost, none twice, in order', { timeout: 120_000 }, async () => {
    const { lastSeq: start } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    const end = start + 1000;
    const seqs: number[] = [];
    let cuts = 0;
    const finished = (async () => {
      // A fixed generator, so that a failure can be run again.
      let seed = 20261125;
      const random = () => (seed = (seed * 1103515245 + 12345) % 2 ** 31) / 2 ** 31;
      while ((seqs.at(-1) ?? start) < end) {
        const socket = connect('editor');
        const budget = 20 + Math.floor(random() * 60);
        await new Promise<void>((cut) => {
          let heard = 0;
          socket.on('disconnect', () => cut());
          socket.on('event', ({ seq }) => {
            // What the page does: an event it already has is dropped, everything else must be the next.
            if (seq > (seqs.at(-1) ?? start)) seqs.push(seq);
            if (++heard >= budget || seq === end) socket.io.engine.close();
          });
          void join(socket, seqs.at(-1) ?? start);
        });
        cuts++;
      }
    })();
    const writers = Array.from({ length: 4 }, async (_, writer) => {
      for (let n = writer; n < 1000; n += 4) await change(n);
    });
    await Promise.all([...writers, finished]);
    expect(seqs).toEqual(Array.from({ length: 1000 }, (_, n) => start + n + 1));
    expect(cuts).toBeGreaterThan(5);
  });

  it('answer a browser that joins while the database fails, and let it in when it is back', async () => {
    const socket = connect('editor');
    await new Promise<void>((done) => socket.on('connect', done));
    await rig.db.$executeRaw`ALTER TABLE member RENAME TO member_away`;
    try {
      expect(await join(socket, 0)).toEqual({ ok: false, code: 'reload' });
    } finally {
      await rig.db.$executeRaw`ALTER TABLE member_away RENAME TO member`;
    }
    expect(await join(socket, 0)).toMatchObject({ ok: true });
  });

  it('survive the loss of the connection to Postgres that they come by', async () => {
    const socket = connect('director');
    const { lastSeq } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    await join(socket, lastSeq);
    const heard = until(socket, ({ subject }) => subject === 'last');
    await rig.db.$executeRaw`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'rushlight-feed' AND datname = current_database()`;
    for (const subject of ['one', 'two', 'last'])
      await write(rig.db, { userId: null, client: null }, rig.film, async () => ({ kind: 'film.changed', subject, rows: {}, result: null }));
    expect((await heard).map(({ seq }) => seq)).toEqual([lastSeq + 1, lastSeq + 2, lastSeq + 3]);
  });

  it('carry a change that is too large for one NOTIFY', async () => {
    const socket = connect('director');
    await join(socket, (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq);
    const heard = until(socket, ({ subject }) => subject === 'large');
    const item = { id: 'i', kind: 'part' as const, parentId: null, orderKey: 'a0', name: 'x'.repeat(20_000), role: 'body' as const, wish: { kind: 'open' as const }, fitted: null, mustShow: '', comesIn: '', goesOut: '', decisions: 0, removedAt: null, removalId: null };
    await write(rig.db, { userId: null, client: null }, rig.film, async () => ({ kind: 'item.made', subject: 'large', rows: { items: [item] }, result: null }));
    expect((await heard).at(-1)?.rows.items?.[0]?.name).toHaveLength(20_000);
  });

  it('can be read over plain HTTP after a number', async () => {
    const { lastSeq } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    const answer = await rig.as('field').get(rig.at(`/events?after=${lastSeq - 2}`));
    expect(answer.body.map((event: FilmEvent) => event.seq)).toEqual([lastSeq - 1, lastSeq]);
    expect((await rig.as('field').get(rig.at('/events?after=-1'))).body.code).toBe('bad-input');
  });
});

describe('presence', () => {
  it('tells who is here and what they look at', async () => {
    const [one, two] = [connect('director'), connect('editor')];
    await Promise.all([join(one, 0), join(two, 0)]);
    const seen = new Promise<unknown>((done) =>
      one.on('presence', ({ people }) => {
        const editor = people.find(({ userId }) => userId === rig.as('editor').userId);
        if (editor?.subject === 'clip-7') done(editor);
      }),
    );
    two.emit('look', { film: rig.film, room: 'sweep', subject: 'clip-7', frame: 101 });
    expect(await seen).toMatchObject({ room: 'sweep', subject: 'clip-7', frame: 101, name: 'Test editor' });
  });
});
