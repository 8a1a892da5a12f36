import { rm } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as later } from 'node:timers/promises';
import type { Ground } from '../platform/http.ts';
import type { MarksChanged } from '../music/contract.ts';
import type { Person } from './person.ts';
import { SONG, SONG_MARKS } from './scenario.ts';
import { makeSong } from './song.ts';

const POLL_MS = 300;

/** Makes what is not there yet of the film's music: Teo sends and marks it, Maren locks it. */
export async function scoreFilm({ db }: Ground, film: string, { Teo, Maren }: { Teo: Person; Maren: Person }, folder: string, signal: AbortSignal): Promise<void> {
  const at = (path: string) => `/api/films/${film}${path}`;
  if ((await db.track.count({ where: { filmId: film } })) === 0) {
    const file = join(folder, 'tide-clock.wav');
    await makeSong(file, signal);
    const { title, maker, licence } = SONG;
    await Teo.upload(at('/tracks/files'), file, { title, maker, licence, rights: 'not-needed' });
    await rm(file);
  }
  const track = await readyTrack(db, film, signal);
  // Whatever a person did with it since stays.
  if (!track || (await db.mark.count({ where: { trackId: track.id, byId: { not: null } } })) > 0) return;
  if ((await db.track.count({ where: { filmId: film, locked: true } })) === 0) await Maren.send('POST', at(`/tracks/${track.id}/lock`), { instead: null });
  const { added } = await Teo.send<MarksChanged>('POST', at(`/tracks/${track.id}/marks`), { add: SONG_MARKS.map(({ line: _, ...mark }) => mark) });
  for (const { name, line } of SONG_MARKS) {
    const item = line && (await db.item.findFirst({ where: { filmId: film, name: line, removedAt: null } }));
    const mark = added.find((one) => one.name === name);
    if (item && mark) await Teo.send('PUT', at(`/items/${item.id}/tie`), { markId: mark.id, instead: null });
  }
}

/** The track once it was listened to; null when that failed, which the page shows by itself. */
async function readyTrack(db: Ground['db'], filmId: string, signal: AbortSignal): Promise<{ id: string } | null> {
  for (;;) {
    const track = await db.track.findFirst({ where: { filmId }, orderBy: { receivedAt: 'asc' } });
    if (!track || track.removedAt || track.state === 'failed') return null;
    if (track.state === 'ready') return track;
    await later(POLL_MS, undefined, { signal });
  }
}
