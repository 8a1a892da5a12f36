import type { Server as HttpServer } from 'node:http';
import { createAdapter } from '@socket.io/postgres-adapter';
import pg from 'pg';
import { Server, type Socket } from 'socket.io';
import { actionsOf, askerOf, isOwnOrigin, membershipOf } from '../access/index.ts';
import { ROLES, type Action } from '../access/contract.ts';
import type { App } from '../platform/http.ts';
import type { Passing } from '../platform/passing.ts';
import type { BrowserToServer, FilmEvent, JoinAnswer, Presence, Progress, Rows, ServerToBrowser } from './contract.ts';
import { openFeed, type Feed } from './feed.ts';
import { roomOf, visibleRows } from './visible.ts';

interface Place {
  film: string;
  room: string;
  subject: string | null;
  frame: number | null;
}
interface SocketData {
  userId: string;
  name: string;
  client: string;
  films: string[];
  at: Place | null;
}
type Io = Server<BrowserToServer, ServerToBrowser, Record<string, never>, SocketData>;
type Ask = Parameters<BrowserToServer['join']>[0];
type Connection = Socket<BrowserToServer, ServerToBrowser, Record<string, never>, SocketData>;

/** A browser further behind than this loads the film anew. */
const REPLAY_AT_MOST = 2000;
const SESSION_CHECK_MS = 60_000;
const PRESENCE_EVERY_MS = 200;

/** The rooms of a film, one for each set of rights. */
const AUDIENCES = ROLES.flatMap((role) => (role === 'viewer' ? [true, false] : [true]).map((mayComment) => ({ role, mayComment, can: new Set(actionsOf(role, mayComment)) })));

export interface Live {
  /** The newest progress of each unfinished clip of a film. */
  progressOf(film: string): Progress[];
  close(): Promise<void>;
}

/** Socket.io on the API's own listener: events, progress and presence. */
export async function openSockets(app: App, server: HttpServer): Promise<Live> {
  const { db, config, databaseUrl } = app;
  const pool = new pg.Pool({ connectionString: databaseUrl, max: 3 });
  await pool.query(`CREATE TABLE IF NOT EXISTS socket_io_attachments (id bigserial UNIQUE, created_at timestamptz DEFAULT now(), payload bytea)`);
  const io: Io = new Server(server, {
    serveClient: false,
    maxHttpBufferSize: 100_000,
    allowRequest: (request, answer) => {
      const { origin, host } = request.headers;
      answer(null, !origin || isOwnOrigin(origin, host, config.publicUrl));
    },
  });
  io.adapter(createAdapter(pool, { errorHandler: (error) => app.log.warn({ err: error }, 'socket adapter') }));

  const progress = new Map<string, Progress>();
  const feed = await openFeed(databaseUrl, db, {
    onEvent: (event) => tellEvent(io, app, event),
    onPassing: (message) => tellPassing(io, progress, message),
    onError: (error) => app.log.error({ err: error }, 'live feed'),
  });

  io.use((socket, next) => {
    askerOf(app, socket.request, null).then((asker) => {
      if (!asker) return next(new Error('not-signed-in'));
      socket.data = { userId: asker.account.id, name: asker.account.name, client: '', films: [], at: null };
      next();
    }, next);
  });
  io.on('connection', (socket) => serve(io, app, feed, socket));

  // A session that ended elsewhere ends here as well.
  const check = setInterval(() => {
    for (const socket of io.sockets.sockets.values())
      askerOf(app, socket.request, null).then((asker) => asker ?? socket.disconnect(true), (error: unknown) => app.log.warn({ err: error }, 'session check'));
  }, SESSION_CHECK_MS);

  return {
    progressOf: (film) => [...progress.values()].filter((one) => one.film === film),
    async close() {
      clearInterval(check);
      await feed.close();
      // Socket.io waits for every connection to end, and one on which nothing was ever asked counts as busy.
      const closed = io.close();
      server.closeAllConnections();
      await closed;
      await pool.end();
    },
  };
}

function serve(io: Io, app: App, feed: Feed, socket: Connection): void {
  socket.on('join', (ask, answer) => {
    if (typeof answer !== 'function') return;
    join(io, app, feed, socket, ask, answer).catch((error: unknown) => {
      app.log.error({ err: error }, 'join');
      // The page loads the film by HTTP, as often as it takes, and then joins again.
      answer({ ok: false, code: 'reload' });
    });
  });

  socket.on('look', (at) => {
    const film = String(at?.film);
    if (!socket.data.films.includes(film)) return;
    socket.data.at = { film, room: String(at.room).slice(0, 40), subject: at.subject === null ? null : String(at.subject).slice(0, 64), frame: Number.isSafeInteger(at.frame) ? at.frame : null };
    presenceSoon(io, film);
  });

  socket.on('leave', (film) => void leave(io, socket, String(film)));
  socket.on('disconnecting', () => {
    for (const film of socket.data.films) presenceSoon(io, film);
  });
}

async function join(io: Io, app: App, feed: Feed, socket: Connection, ask: Ask, answer: (answer: JoinAnswer) => void): Promise<void> {
  const film = String(ask?.film);
  const after = Number(ask?.after);
  if (!Number.isSafeInteger(after) || after < 0) return;
  const membership = await membershipOf(app.db, film, socket.data.userId);
  if (!membership) return answer({ ok: false, code: 'not-allowed' });
  // Between two events: what came since `after` goes out first, then the socket hears the rest with everyone.
  await feed.follow(film, after, REPLAY_AT_MOST + 1, async (events) => {
    if (events.length > REPLAY_AT_MOST) return answer({ ok: false, code: 'reload' });
    const offered = await offeredClips(app, film, membership.can);
    for (const event of events) socket.emit('event', { ...event, rows: visibleRows(event.rows, membership.can, offered) });
    socket.data.client = String(ask.client).slice(0, 64);
    socket.data.films = [...socket.data.films.filter((other) => other !== film), film];
    await socket.join([`film:${film}`, roomOf(film, membership.role, membership.mayComment)]);
    answer({ ok: true, seq: events.at(-1)?.seq ?? after });
  });
  presenceSoon(io, film);
}

async function leave(io: Io, socket: Connection, film: string): Promise<void> {
  socket.data.films = socket.data.films.filter((other) => other !== film);
  for (const { role, mayComment } of AUDIENCES) socket.leave(roomOf(film, role, mayComment));
  socket.leave(`film:${film}`);
  presenceSoon(io, film);
}

async function tellEvent(io: Io, app: App, event: FilmEvent): Promise<void> {
  for (const { role, mayComment, can } of AUDIENCES) {
    const room = roomOf(event.film, role, mayComment);
    if (!io.sockets.adapter.rooms.get(room)?.size) continue;
    io.local.to(room).emit('event', { ...event, rows: visibleRows(event.rows, can, await offeredClips(app, event.film, can, event.rows)) });
  }
  for (const member of event.rows.members ?? []) await regrade(io, event.film, member.id);
}

/** Whose role changed hears nothing more under the old one, and loads the film again. */
async function regrade(io: Io, film: string, userId: string): Promise<void> {
  for (const socket of io.sockets.sockets.values()) {
    if (socket.data.userId !== userId || !socket.data.films.includes(film)) continue;
    await leave(io, socket, film);
    socket.emit('reload', film);
  }
}

function tellPassing(io: Io, progress: Map<string, Progress>, message: Passing): void {
  const mayHear = message.to === 'track' ? 'music.read' : message.to === 'string-out' ? 'offers.read' : 'clips.read';
  const crew = AUDIENCES.filter(({ can }) => can.has(mayHear)).map(({ role, mayComment }) => roomOf(message.film, role, mayComment));
  if (message.to === 'seen') {
    const { to: _, ...seen } = message;
    io.local.to(crew).emit('seen', seen);
    return;
  }
  if (message.to === 'track') {
    const { to: _, ...track } = message;
    io.local.to(crew).emit('track', track);
    return;
  }
  if (message.to === 'string-out') {
    const { to: _, ...made } = message;
    io.local.to(crew).emit('stringOut', made);
    return;
  }
  if (message.to === 'card') {
    const { to: _, ...card } = message;
    io.local.to(crew).emit('card', card);
    return;
  }
  const { to: _, ...one } = message;
  if (one.fraction >= 1) progress.delete(one.clipId);
  else progress.set(one.clipId, one);
  io.local.to(crew).emit('progress', one);
}

async function offeredClips(app: App, film: string, can: ReadonlySet<Action>, rows?: Rows): Promise<ReadonlySet<string>> {
  if (can.has('clips.read') || (rows && !rows.clips?.length)) return new Set();
  const offers = await app.db.offer.findMany({ where: { filmId: film, removedAt: null }, select: { clipId: true }, distinct: ['clipId'] });
  return new Set(offers.map((offer) => offer.clipId));
}

const presenceDue = new WeakMap<Io, Map<string, NodeJS.Timeout>>();

/** Many small moves become one message. */
function presenceSoon(io: Io, film: string): void {
  const due = presenceDue.get(io) ?? new Map<string, NodeJS.Timeout>();
  presenceDue.set(io, due);
  if (due.has(film)) return;
  due.set(
    film,
    setTimeout(() => {
      due.delete(film);
      tellPresence(io, film).catch(() => {});
    }, PRESENCE_EVERY_MS).unref(),
  );
}

async function tellPresence(io: Io, film: string): Promise<void> {
  const sockets = await io.in(`film:${film}`).fetchSockets();
  const people: Presence['people'] = sockets.map(({ data }) => ({
    userId: data.userId,
    name: data.name,
    client: data.client,
    room: data.at?.film === film ? data.at.room : '',
    subject: data.at?.film === film ? data.at.subject : null,
    frame: data.at?.film === film ? data.at.frame : null,
  }));
  io.to(`film:${film}`).emit('presence', { film, people });
}
