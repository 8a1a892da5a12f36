import { randomBytes } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { Type, type Static } from 'typebox';
import Value from 'typebox/value';

/** What the environment may say; everything has a default that works on one machine. */
const Environment = Type.Object({
  ROLE: Type.Enum(['all', 'api', 'worker'], { default: 'all' }),
  HOST: Type.String({ default: '127.0.0.1' }),
  PORT: Type.Integer({ minimum: 0, maximum: 65535, default: 4600 }),
  PUBLIC_URL: Type.Optional(Type.String({ pattern: '^https?://[^/]+$' })),
  DATA_DIR: Type.String({ default: 'data' }),
  DATABASE_URL: Type.Optional(Type.String({ pattern: '^postgres(ql)?://' })),
  FFMPEG_PATH: Type.Optional(Type.String()),
  AUTH_SECRET: Type.Optional(Type.String({ minLength: 32 })),
  MAX_UPLOAD_BYTES: Type.Integer({ minimum: 1, default: 256 * 1024 ** 3 }),
  UPLOAD_EXPIRES_HOURS: Type.Number({ exclusiveMinimum: 0, default: 24 * 14 }),
  TRANSCODES: Type.Integer({ minimum: 1, maximum: 64, default: 1 }),
  TRUST_PROXY: Type.Boolean({ default: false }),
  LOG_LEVEL: Type.Enum(['fatal', 'error', 'warn', 'info', 'debug', 'silent'], { default: 'info' }),
});

export type Config = {
  role: 'all' | 'api' | 'worker';
  host: string;
  port: number;
  /** Origin people type in, when a proxy stands in front; otherwise the Host header of each request is it. */
  publicUrl: string | null;
  dataDir: string;
  databaseUrl: string | null;
  ffmpegPath: string | null;
  authSecret: string;
  maxUploadBytes: number;
  uploadExpiresHours: number;
  transcodes: number;
  trustProxy: boolean;
  logLevel: Static<typeof Environment>['LOG_LEVEL'];
};

/** A setting that cannot be used; the message names it and says what would be right. */
export class ConfigError extends Error {
  readonly code = 'config';
}

/**
 * Reads and checks the environment: the only place that does.
 * @throws ConfigError naming every variable that is wrong.
 */
export function readConfig(env: Record<string, string | undefined>): Config {
  const given = Object.fromEntries(
    Object.keys(Environment.properties).flatMap((key) => (env[key] === undefined || env[key] === '' ? [] : [[key, env[key]]])),
  );
  const value: unknown = Value.Default(Environment, Value.Convert(Environment, given));
  if (!Value.Check(Environment, value)) {
    const wrong = Value.Errors(Environment, value).map((error) => `${error.instancePath.slice(1)} ${error.message}`);
    throw new ConfigError(`The environment cannot be used: ${[...new Set(wrong)].join('; ')}.`);
  }
  const dataDir = resolve(value.DATA_DIR);
  mkdirSync(dataDir, { recursive: true });
  return {
    role: value.ROLE,
    host: value.HOST,
    port: value.PORT,
    publicUrl: value.PUBLIC_URL ?? null,
    dataDir,
    databaseUrl: value.DATABASE_URL ?? null,
    ffmpegPath: value.FFMPEG_PATH ?? null,
    authSecret: value.AUTH_SECRET ?? keptSecret(join(dataDir, 'auth.secret')),
    maxUploadBytes: value.MAX_UPLOAD_BYTES,
    uploadExpiresHours: value.UPLOAD_EXPIRES_HOURS,
    transcodes: value.TRANSCODES,
    trustProxy: value.TRUST_PROXY,
    logLevel: value.LOG_LEVEL,
  };
}

/** A secret made once and kept beside the data, so that sessions outlive a restart. */
export function keptSecret(file: string): string {
  if (!existsSync(file)) writeFileSync(file, randomBytes(32).toString('hex'), { mode: 0o600, flag: 'wx' });
  return readFileSync(file, 'utf8').trim();
}
