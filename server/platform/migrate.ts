// Forward-only migrations: each file of prisma/migrations in one transaction, recorded in Prisma's own bookkeeping
// table in Prisma's own way (SHA-256 of the file), so that `prisma migrate deploy` on a connected machine agrees.
import { createHash, randomUUID } from 'node:crypto';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import postgres from 'postgres';

const MIGRATIONS = fileURLToPath(new URL('../../prisma/migrations/', import.meta.url));

/** The database was made by a later release, or by a changed file; this release must not write to it. */
export class SchemaMismatch extends Error {
  readonly code = 'schema-mismatch';
}

/**
 * Brings the database to the schema of this release.
 * @param until name of the last migration wanted, for tests of an upgrade; all when left out.
 * @returns names of the migrations applied now.
 * @throws SchemaMismatch when the database holds a migration this release does not know, or knows otherwise.
 */
export async function migrate(url: string, { until }: { until?: string } = {}): Promise<string[]> {
  const sql = postgres(url, { max: 1, onnotice: () => {} });
  try {
    // Two processes that start at once take turns; the session lock ends with the connection.
    await sql`SELECT pg_advisory_lock(7265, 1)`;
    await sql`CREATE TABLE IF NOT EXISTS _prisma_migrations (
      id VARCHAR(36) PRIMARY KEY NOT NULL, checksum VARCHAR(64) NOT NULL, finished_at TIMESTAMPTZ,
      migration_name VARCHAR(255) NOT NULL, logs TEXT, rolled_back_at TIMESTAMPTZ,
      started_at TIMESTAMPTZ NOT NULL DEFAULT now(), applied_steps_count INTEGER NOT NULL DEFAULT 0)`;
    const files = migrationNames().map((name) => {
      const text = readFileSync(join(MIGRATIONS, name, 'migration.sql'), 'utf8');
      return { name, text, checksum: createHash('sha256').update(text).digest('hex') };
    });
    const applied = await sql<{ name: string; checksum: string }[]>`
      SELECT migration_name AS name, checksum FROM _prisma_migrations WHERE rolled_back_at IS NULL`;
    const strange = applied.filter((row) => files.find((file) => file.name === row.name)?.checksum !== row.checksum);
    if (strange.length) {
      const names = strange.map((row) => row.name).join(', ');
      throw new SchemaMismatch(`The database is of another release (${names}): start that one, or restore a backup of this one's.`);
    }
    const due = files.filter(({ name }) => !applied.some((row) => row.name === name) && (until === undefined || name <= until));
    for (const { name, text, checksum } of due) {
      await sql.begin(async (tx) => {
        await tx.unsafe(text);
        await tx`INSERT INTO _prisma_migrations (id, checksum, migration_name, finished_at, applied_steps_count)
                 VALUES (${randomUUID()}, ${checksum}, ${name}, now(), 1)`;
      });
    }
    return due.map(({ name }) => name);
  } finally {
    await sql.end();
  }
}

/** Names of the migrations of this release, oldest first. */
export function migrationNames(): string[] {
  return readdirSync(MIGRATIONS, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();
}
