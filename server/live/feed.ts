// From Postgres to this process. States of a film's feed: unknown -> following (`last` = newest event handed on).
// Every NOTIFY either is the next number (handed on), an old one (dropped), or shows a hole (the rest is read from the
// table). After a lost connection the table is read for every film that is followed, so nothing is missed.
import postgres from 'postgres';
import type { Db } from '../platform/db.ts';
import { PASSING_CHANNEL, type Passing } from '../platform/passing.ts';
import { EVENT_CHANNEL } from '../platform/write.ts';
import type { FilmEvent } from './contract.ts';

export interface Feed {
  /**
   * Gives `work` the events of a film after a number, at a moment between two that are handed on: whoever is told of
   * these and then listens has missed nothing. Of more than `limit` it is given `limit`.
   */
  follow(film: string, after: number, limit: number, work: (events: FilmEvent[]) => Promise<void>): Promise<void>;
  close(): Promise<void>;
}

/** Events of a film after a number, oldest first. */
export async function eventsAfter(db: Db, film: string, after: number, limit: number): Promise<FilmEvent[]> {
  const rows = await db.event.findMany({ where: { filmId: film, seq: { gt: after } }, orderBy: { seq: 'asc' }, take: limit });
  return rows.map((row) => ({
    film,
    seq: row.seq,
    actorId: row.actorId,
    client: row.client,
    kind: row.kind,
    subject: row.subject,
    rows: row.rows as FilmEvent['rows'],
    at: row.at.toISOString(),
  }));
}

const PAGE = 500;

/** Listens on a connection of its own and hands on every event of a film once and in order. */
export async function openFeed(
  url: string,
  db: Db,
  { onEvent, onPassing, onError }: { onEvent(event: FilmEvent): Promise<void>; onPassing(message: Passing): void; onError(error: unknown): void },
): Promise<Feed> {
  const last = new Map<string, number>();
  const queues = new Map<string, Promise<unknown>>();

  function between<T>(film: string, work: () => Promise<T>): Promise<T> {
    const before = queues.get(film) ?? Promise.resolve();
    const result = before.then(work, work);
    const settled = result.catch(onError);
    queues.set(film, settled);
    void settled.then(() => queues.get(film) === settled && queues.delete(film));
    return result;
  }

  async function handOn(event: FilmEvent): Promise<void> {
    await onEvent(event);
    last.set(event.film, event.seq);
  }

  async function catchUp(film: string, from: number): Promise<void> {
    for (let events = await eventsAfter(db, film, from, PAGE); events.length; events = await eventsAfter(db, film, last.get(film) ?? from, PAGE))
      for (const event of events) await handOn(event);
  }

  async function hear(message: Partial<FilmEvent> & { film: string; seq: number }): Promise<void> {
    const have = last.get(message.film) ?? message.seq - 1;
    if (message.seq <= have) return;
    if (message.seq === have + 1 && message.rows) await handOn(message as FilmEvent);
    else await catchUp(message.film, have);
  }

  const sql = postgres(url, { max: 1, idle_timeout: 0, connection: { application_name: 'rushlight-feed' }, onnotice: () => {} });
  await sql.listen(
    EVENT_CHANNEL,
    (told) => {
      const message = JSON.parse(told) as FilmEvent;
      void between(message.film, () => hear(message)).catch(() => {});
    },
    () => {
      // How far a film is, is asked when its turn comes: messages before it in the queue may have moved it on.
      for (const film of last.keys()) void between(film, () => catchUp(film, last.get(film) ?? 0)).catch(() => {});
    },
  );
  await sql.listen(PASSING_CHANNEL, (told) => onPassing(JSON.parse(told) as Passing));
  return {
    follow: (film, after, limit, work) =>
      between(film, async () => {
        const events = await eventsAfter(db, film, after, limit);
        if (!last.has(film)) last.set(film, events.at(-1)?.seq ?? after);
        await work(events);
      }),
    close: () => sql.end({ timeout: 1 }),
  };
}
