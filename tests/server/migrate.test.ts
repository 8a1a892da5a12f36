import postgres from 'postgres';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { migrate, migrationNames } from '../../server/platform/migrate.ts';
import { freshDatabase } from '../fixtures/database.ts';
import { schemaSql } from '../fixtures/schema-sql.ts';

let migrated: Awaited<ReturnType<typeof freshDatabase>>;
let made: Awaited<ReturnType<typeof freshDatabase>>;
beforeAll(async () => {
  [migrated, made] = [await freshDatabase(), await freshDatabase()];
});
afterAll(async () => {
  await migrated.drop();
  await made.drop();
});

/** What a database holds, as Postgres itself describes it. Check constraints and partial indexes are the migrations' own. */
async function describeDatabase(url: string): Promise<unknown> {
  const sql = postgres(url, { max: 1, onnotice: () => {} });
  const columns = await sql`
    SELECT table_name, column_name, udt_name, is_nullable, column_default FROM information_schema.columns
    WHERE table_schema = 'public' AND table_name <> '_prisma_migrations' ORDER BY 1, 2`;
  const constraints = await sql`
    SELECT conrelid::regclass::text AS on_table, conname, pg_get_constraintdef(oid) AS definition FROM pg_constraint
    WHERE connamespace = 'public'::regnamespace AND contype IN ('p', 'f', 'u') AND conrelid IS DISTINCT FROM to_regclass('_prisma_migrations') ORDER BY 1, 2`;
  const indexes = await sql`
    SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = 'public' AND tablename <> '_prisma_migrations' AND indexdef NOT LIKE '% WHERE %' ORDER BY 1, 2`;
  const enums = await sql`SELECT typname, enumlabel FROM pg_enum JOIN pg_type ON pg_type.oid = enumtypid ORDER BY 1, enumsortorder`;
  await sql.end();
  return { columns: [...columns], constraints: [...constraints], indexes: [...indexes], enums: [...enums] };
}

describe('migrations', () => {
  it('make what prisma/schema.prisma says', async () => {
    expect(await migrate(migrated.url)).toEqual(migrationNames());
    const sql = postgres(made.url, { max: 1, onnotice: () => {} });
    await sql.unsafe(await schemaSql(made.url));
    await sql.end();
    expect(await describeDatabase(migrated.url)).toEqual(await describeDatabase(made.url));
  });

  it('are applied once, also when two processes start together', async () => {
    const fresh = await freshDatabase();
    const both = await Promise.all([migrate(fresh.url), migrate(fresh.url)]);
    expect(both.flat().sort()).toEqual(migrationNames());
    await fresh.drop();
  });

  it('refuse a database of a later release, and leave it alone', async () => {
    const fresh = await freshDatabase();
    await migrate(fresh.url);
    const sql = postgres(fresh.url, { max: 1, onnotice: () => {} });
    await sql`INSERT INTO _prisma_migrations (id, checksum, migration_name) VALUES ('later', 'x', '99991231_later')`;
    await sql.end();
    await expect(migrate(fresh.url)).rejects.toMatchObject({ code: 'schema-mismatch', message: expect.stringContaining('99991231_later') });
    await fresh.drop();
  });
});
