// The write path: rules decide -> one transaction writes the rows, the job and the event -> commit -> NOTIFY.
// There is no second way to change something.
import type { FilmEvent, Rows, TableName, Tables } from '../live/contract.ts';
import { Prisma } from '#prisma';
import { NOTIFY_BYTES, type Db, type Tx } from './db.ts';
import { LAST_STATEMENT } from './transaction-client.ts';

export const EVENT_CHANNEL = 'rushlight_event';
/** What the number takes in a NOTIFY: `"seq":`, ten digits, a comma. */
const SEQ_BYTES = 17;

/** Who asked for a change, and from which browser tab. */
export interface Who {
  userId: string | null;
  client: string | null;
  /** What the page calls this change, so that asking again after a lost answer does not do it again. */
  change?: string | null;
  /** Hears the number of the event that says it. */
  wrote?(seq: number): void;
}

export interface Written<T> {
  /** `table.verb`, such as `select.made`. */
  kind: string;
  /** Id of what it is about. */
  subject: string;
  /** Every row that changed, whole and in wire shape. */
  rows: Rows;
  result: T;
}

/**
 * Runs one change of a film and its event in one transaction.
 * Holding the film's row from numbering to commit makes the numbers hole-free and their order the order of commit,
 * so the film is always the last thing locked.
 * @param again makes the answer from the rows of the event of the first time, for a change that has a name and was done
 * already; without it such a name is not kept
 */
export async function write<T>(db: Db, who: Who, film: string, work: (tx: Tx) => Promise<Written<T>>, again?: (rows: Rows) => T): Promise<T> {
  const change = again && who.change ? who.change : null;
  try {
    return await once(db, who, film, change, work);
  } catch (error) {
    // The second time fails, if not by what the first has changed, then by the name; so the first costs nothing more.
    const before = change === null ? null : await db.event.findUnique({ where: { filmId_changeId: { filmId: film, changeId: change } } });
    if (!before || !again) throw error;
    who.wrote?.(before.seq);
    return again(before.rows as Rows);
  }
}

/** For `again`: a change of one row is answered with that row, which its event holds. */
export const theRow =
  <Name extends TableName>(table: Name) =>
  (rows: Rows): Tables[Name] =>
    rows[table]![0]!;

async function once<T>(db: Db, who: Who, film: string, change: string | null, work: (tx: Tx) => Promise<Written<T>>): Promise<T> {
  const [seq, done] = await db.$transaction(async (tx) => {
    const { kind, subject, rows, result } = await work(tx);
    const event: Omit<FilmEvent, 'seq'> = { film, actorId: who.userId, client: who.client, kind, subject, rows, at: new Date().toISOString() };
    const whole = JSON.stringify(event);
    // A larger event is announced by its number only.
    const told = Buffer.byteLength(whole) < NOTIFY_BYTES - SEQ_BYTES ? whole : JSON.stringify({ film });
    // One statement, because the film's row is held meanwhile and every other writer of the film waits for it.
    // Without its number an event is refused, so that a film that is gone ends the transaction here.
    const [numbered] = await tx.$queryRaw<{ seq: number }[]>`${Prisma.raw(LAST_STATEMENT)}
      WITH numbered AS (
        UPDATE film SET last_seq = last_seq + 1 WHERE id = ${film} RETURNING last_seq AS seq
      ), written AS (
        INSERT INTO event (film_id, seq, actor_id, client, change_id, kind, subject, rows, at)
        VALUES (${film}, (SELECT seq FROM numbered), ${who.userId}, ${who.client}, ${change}, ${kind}, ${subject}, ${JSON.stringify(rows)}::jsonb, ${event.at}::timestamptz)
        RETURNING seq
      )
      SELECT seq, pg_notify(${EVENT_CHANNEL}, '{"seq":' || seq || ',' || ${told.slice(1)})::text FROM written`;
    return [numbered!.seq, result] as const;
  });
  who.wrote?.(seq);
  return done;
}
