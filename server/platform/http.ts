import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type { FastifyBaseLogger, FastifyInstance, RawReplyDefaultExpression, RawRequestDefaultExpression, RawServerDefault } from 'fastify';
import plugin from 'fastify-plugin';
import type { Auth } from '../access/auth.ts';
import type { Config } from './config.ts';
import type { Db } from './db.ts';
import type { Jobs } from './jobs.ts';
import type { Storage } from './storage.ts';
import type { Tools } from './ffmpeg.ts';

/** The Fastify instance with our types: schemas give the types of body, params and answer. */
export type App = FastifyInstance<RawServerDefault, RawRequestDefaultExpression, RawReplyDefaultExpression, FastifyBaseLogger, TypeBoxTypeProvider>;

/** What every capability stands on. */
export interface Ground {
  config: Config;
  db: Db;
  /** Address of the database, for what keeps a connection of its own. */
  databaseUrl: string;
  jobs: Jobs;
  storage: Storage;
  auth: Auth;
  tools: Tools;
}

declare module 'fastify' {
  interface FastifyInstance extends Ground {
    readonly ground: Ground;
  }
}

/** A capability as a named plugin that shares hooks and decorators with its siblings. */
export function guarded(name: string, register: (app: App) => Promise<void>) {
  return plugin(async (app: FastifyInstance) => register(app.withTypeProvider<TypeBoxTypeProvider>() as App), { name, fastify: '5.x' });
}
