import { defineConfig } from 'prisma/config';

/** For the prisma command line; the server migrates by itself at start (server/platform/migrate.ts). */
export default defineConfig({
  schema: 'schema.prisma',
  migrations: { path: 'migrations' },
  datasource: { url: process.env['DATABASE_URL'] ?? 'postgresql://localhost/rushlight' },
});
