// A connection that spares a transaction two of its turns to the database and back.
// States: idle -> begun (BEGIN is on its way, with whatever comes next behind it) -> closing (the last statement is on
// its way, with COMMIT behind it) -> idle.
// Postgres answers statements in the order they were sent and ends a transaction in which one failed with a rollback,
// whatever the COMMIT behind it says; so nothing is lost by not waiting.
import pg from 'pg';

/** Before the last statement of a transaction: if it succeeds, the transaction is to be committed. */
export const LAST_STATEMENT = '/* last */';

type Query = (this: pg.Client, query: string | pg.QueryConfig, ...rest: unknown[]) => Promise<pg.QueryResult>;
const send = pg.Client.prototype.query as unknown as Query;
const NOTHING = { command: 'BEGIN', rowCount: null, oid: 0, fields: [], rows: [] } satisfies pg.QueryResult;

/** To be given to a pool together with `pipeline: true`. */
export class TransactionClient extends pg.Client {
  #commit: Promise<pg.QueryResult> | null = null;

  /** As pg's own, but BEGIN and the last statement of a transaction are not waited for one by one. */
  override query = ((query: string | pg.QueryConfig, ...rest: unknown[]) => {
    if (typeof query === 'string' || rest.length > 0) return send.call(this, query, ...rest);
    if (query.text === 'BEGIN') return this.#begin();
    if (query.text === 'COMMIT') return this.#commit ?? send.call(this, query);
    return query.text.startsWith(LAST_STATEMENT) ? this.#close(query) : send.call(this, query);
  }) as pg.Client['query'];

  async #begin(): Promise<pg.QueryResult> {
    this.#commit = null;
    // It fails only with the connection, and then so does the statement behind it.
    send.call(this, 'BEGIN').catch(() => {});
    return NOTHING;
  }

  #close(query: pg.QueryConfig): Promise<pg.QueryResult> {
    const closed = send.call(this, query);
    this.#commit = send.call(this, 'COMMIT');
    // Who asks for the commit hears of it; after a failed statement nobody asks.
    this.#commit.catch(() => {});
    return closed;
  }
}
