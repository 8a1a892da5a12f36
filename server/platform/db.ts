import { PrismaPg } from '@prisma/adapter-pg';
import { PrismaClient, type Prisma } from '#prisma';
import { TransactionClient } from './transaction-client.ts';

export type Db = PrismaClient;
/** A running transaction. Everything that changes something takes one. */
export type Tx = Prisma.TransactionClient;

/** A connection keeps at most this many statements prepared: the shapes of a query that lists ids have no end. */
const PREPARED_AT_MOST = 300;

/** A client on a pool of its own. Close it with `$disconnect()`. */
export function openDb(url: string, { connections = 20 }: { connections?: number } = {}): Db {
  return new PrismaClient({
    adapter: new PrismaPg({ connectionString: url, max: connections, Client: TransactionClient, pipeline: true }, { statementNameGenerator: preparedNames() }),
    transactionOptions: { maxWait: 20_000, timeout: 30_000 },
  });
}

/** Names for the statements met first, which are those met most; the rest are planned each time. */
function preparedNames(): (query: { sql: string }) => string {
  const names = new Map<string, string>();
  return ({ sql }) => {
    if (!names.has(sql) && names.size < PREPARED_AT_MOST) names.set(sql, `p${names.size}`);
    return names.get(sql) ?? '';
  };
}

/** Postgres refuses a NOTIFY of 8000 bytes or more. */
export const NOTIFY_BYTES = 7900;
