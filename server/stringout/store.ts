import { readFile, rename, writeFile, mkdir } from 'node:fs/promises';
import { dirname } from 'node:path';
import type { Ground } from '../platform/http.ts';
import { sync } from '../platform/storage.ts';
import type { StringOutVersion } from './contract.ts';
import type { Plan } from './plan.ts';

const versionFile = (filmId: string, version: string): string => `${filmId}/versions/${version}.json`;
const failedFile = (filmId: string): string => `${filmId}/failed.json`;

/** What is played of a version, or null when it is not kept any more. */
export async function readVersion({ storage }: Ground, filmId: string, version: string): Promise<StringOutVersion | null> {
  return readJson<StringOutVersion>(storage.path('string-outs', versionFile(filmId, version)));
}

/** Keeps a version whose pieces and sound are all there. */
export async function keepVersion({ storage }: Ground, filmId: string, { version, rate, frames, stretches, sound }: Plan): Promise<void> {
  await writeJson(storage.path('string-outs', versionFile(filmId, version)), { version, rate, frames, stretches, sound: sound.name, musicFailed: sound.musicFailed } satisfies StringOutVersion);
}

/** Names of pieces that could not be made. */
export async function readFailed({ storage }: Ground, filmId: string): Promise<Set<string>> {
  return new Set((await readJson<string[]>(storage.path('string-outs', failedFile(filmId)))) ?? []);
}

/** Keeps the names of pieces that could not be made; none lets all of them be tried again. */
export async function keepFailed({ storage }: Ground, filmId: string, names: ReadonlySet<string>): Promise<void> {
  await writeJson(storage.path('string-outs', failedFile(filmId)), [...names]);
}

async function readJson<T>(file: string): Promise<T | null> {
  try {
    return JSON.parse(await readFile(file, 'utf8')) as T;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
}

/** Whoever reads sees the former file or this one. */
async function writeJson(file: string, value: unknown): Promise<void> {
  await mkdir(dirname(file), { recursive: true });
  const draft = `${file}.${process.pid}.draft`;
  await writeFile(draft, JSON.stringify(value));
  await sync(draft);
  await rename(draft, file);
}
