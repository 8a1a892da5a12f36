// The invented film, made on the spot: footage is generated, sent in by Ines, cut and offered by Teo, decided by Maren,
// all through the API. It can be stopped anywhere and goes on at the next start where it was.
import { randomUUID } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as later } from 'node:timers/promises';
import { OPEN, type Wish } from '#core/wish.ts';
import { openSession } from '../access/index.ts';
import type { Clip } from '../footage/contract.ts';
import type { Item } from '../outline/contract.ts';
import type { Ground } from '../platform/http.ts';
import type { Note } from '../notes/contract.ts';
import type { Offer } from '../offers/contract.ts';
import type { Select } from '../selects/contract.ts';
import { makeClip } from './footage.ts';
import { scoreFilm } from './music.ts';
import { personAt, type Person } from './person.ts';
import { CLIPS, CREW, FILM, OUTLINE, SELECTS, UNSEEN, type DemoClip, type DemoLength, type DemoPart, type DemoSelect } from './scenario.ts';
import { shootClip } from './shoot.ts';

type Name = (typeof CREW)[number]['name'];
type Crew = Record<Name, Person>;

const POLL_MS = 300;

/** Makes what is not there yet of the invented film. @param origin where this server listens. */
export async function makeDemo(ground: Ground, origin: string, signal: AbortSignal): Promise<void> {
  const { db } = ground;
  const film = await filmOf(ground);
  const crew = await crewOf(ground, film, origin, signal);
  const at = (path: string) => `/api/films/${film}${path}`;
  if ((await db.item.count({ where: { filmId: film } })) === 0) for (const part of OUTLINE) await writePart(crew.Maren, at('/items'), part, null);
  const slots = new Map((await db.item.findMany({ where: { filmId: film, kind: 'slot', removedAt: null } })).map((row) => [row.name, row.id]));

  const folder = await mkdtemp(join(tmpdir(), 'rushlight-demo-'));
  // Teo cuts one clip after the other as their proxies get ready, while the next is being shot.
  let cutting = Promise.resolve();
  const scoring = scoreFilm(ground, film, crew, folder, signal);
  // What goes wrong with either is told where it is awaited: until then it must not end the server.
  scoring.catch(() => {});
  try {
    for (const [index, clip] of CLIPS.entries()) {
      if (!(await db.clip.findFirst({ where: { filmId: film, name: clip.name } }))) {
        const file = join(folder, clip.name);
        await makeClip(shootClip(clip, index), file, ground.tools, signal);
        await crew.Ines.upload(at('/clips/files'), file, { camera: clip.camera, card: clip.card });
        await rm(file);
      }
      cutting = cutting.then(() => sweep(ground, film, crew, at, clip, slots, signal));
      cutting.catch(() => {});
    }
    await cutting;
    await scoring;
  } finally {
    await Promise.allSettled([cutting, scoring]);
    await rm(folder, { recursive: true, force: true });
    await db.session.deleteMany({ where: { userId: { in: Object.values(crew).map(({ userId }) => userId) } } });
  }
}

/** Watches a clip and cuts out what the scenario says, unless that has been done. */
async function sweep({ db }: Ground, film: string, crew: Crew, at: (path: string) => string, clip: DemoClip, slots: Map<string, string>, signal: AbortSignal): Promise<void> {
  const row = await readyClip(db, film, clip, signal);
  if (!row) return;
  if (row.location === '') await crew.Teo.send('PATCH', at(`/clips/${row.id}`), { location: clip.location });
  if (!UNSEEN.includes(clip.name)) await crew.Teo.send('POST', at(`/clips/${row.id}/seen`), { ranges: [[0, row.frames]] });
  if ((await db.select.count({ where: { filmId: film, clipId: row.id } })) > 0) return;
  for (const select of SELECTS.filter((one) => one.clip === clip.name)) await cut(crew, at, row, select, slots);
}

async function filmOf({ db }: Ground): Promise<string> {
  const made = await db.film.findFirst({ where: { invented: true, title: FILM.title } });
  if (made) return made.id;
  const { num, den } = FILM.rate;
  const film = await db.film.create({
    data: { title: FILM.title, rateNum: num, rateDen: den, targetFrames: (FILM.seconds * num) / den, invented: true },
  });
  // Whoever keeps this server may look at it, and try everything.
  const keeper = await db.user.findFirst({ where: { keeper: true } });
  if (keeper) await db.member.create({ data: { filmId: film.id, userId: keeper.id, role: 'director' } });
  return film.id;
}

/** The invented people have accounts without a password: nobody can sign in as one of them. */
async function crewOf({ db, auth }: Ground, filmId: string, origin: string, signal: AbortSignal): Promise<Crew> {
  const people = CREW.map(async ({ name, role }) => {
    const email = `${name.toLowerCase()}@invented.invalid`;
    const { id: userId } = await db.user.upsert({ where: { email }, create: { id: randomUUID(), name, email }, update: {} });
    await db.member.upsert({ where: { filmId_userId: { filmId, userId } }, create: { filmId, userId, role }, update: {} });
    return [name, personAt(origin, userId, await openSession(auth, userId), signal)] as const;
  });
  return Object.fromEntries(await Promise.all(people)) as Crew;
}

async function writePart(maren: Person, items: string, part: DemoPart, parentId: string | null): Promise<void> {
  const made = await maren.send<Item>('POST', items, {
    kind: 'part',
    place: { parentId, afterId: await lastIn(maren, items, parentId) },
    name: part.name,
    role: part.role ?? 'body',
    ...(part.seconds ? { wish: lengthOf(part.seconds) } : {}),
  });
  for (const inner of part.parts ?? []) await writePart(maren, items, inner, made.id);
  let afterId: string | null = null;
  for (const { seconds, name, mustShow, comesIn = '', goesOut = '' } of part.slots ?? []) {
    const slot: Item = await maren.send<Item>('POST', items, {
      kind: 'slot',
      place: { parentId: made.id, afterId },
      name,
      mustShow,
      comesIn,
      goesOut,
      wish: lengthOf(seconds),
    });
    afterId = slot.id;
  }
}

function lengthOf(seconds: DemoLength): Wish {
  const frames = (length: number) => Math.round((length * FILM.rate.num) / FILM.rate.den);
  if (seconds === null) return OPEN;
  return typeof seconds === 'number' ? { kind: 'fixed', frames: frames(seconds) } : { kind: 'range', min: frames(seconds[0]), max: frames(seconds[1]) };
}

/** The last line under a parent, as the outline stands. */
async function lastIn(maren: Person, items: string, parentId: string | null): Promise<string | null> {
  const { rows } = await maren.send<{ rows: { items: Item[] } }>('GET', items.replace('/items', '/state'));
  const siblings = rows.items.filter((item) => item.parentId === parentId);
  return siblings.sort((a, b) => (a.orderKey < b.orderKey ? -1 : 1)).at(-1)?.id ?? null;
}

/** The clip once its proxy is made; null when that failed, which the page shows by itself. */
async function readyClip(db: Ground['db'], filmId: string, { name }: DemoClip, signal: AbortSignal): Promise<(Pick<Clip, 'id' | 'location'> & { frames: number }) | null> {
  for (;;) {
    const row = await db.clip.findFirst({ where: { filmId, name } });
    if (!row || row.removedAt || row.state === 'failed') return null;
    if (row.state === 'ready' && row.frames) return { id: row.id, location: row.location, frames: row.frames };
    await later(POLL_MS, undefined, { signal });
  }
}

async function cut(crew: Crew, at: (path: string) => string, clip: { id: string; frames: number }, plan: DemoSelect, slots: Map<string, string>): Promise<void> {
  const frame = (share: number) => Math.round(share * clip.frames);
  const select = await crew.Teo.send<Select>('POST', at('/selects'), {
    clipId: clip.id,
    in: frame(plan.from),
    outExclusive: frame(plan.to),
    circled: plan.circled ?? false,
    label: plan.label,
  });
  for (const { slot, verdict, reason } of plan.offers ?? []) {
    const slotId = slots.get(slot);
    // Somebody may have taken the slot away while the film was being made.
    if (!slotId) continue;
    const offer = await crew.Teo.send<Offer>('POST', at('/offers'), { slotId, selectId: select.id });
    if (!verdict) continue;
    const { rows } = await crew.Maren.send<{ rows: { items: Item[] } }>('GET', at('/state'));
    const decisions = rows.items.find((item) => item.id === slotId)?.decisions ?? 0;
    await crew.Maren.send('POST', at(`/offers/${offer.id}/verdict`), { verdict, decisions, ...(reason ? { reason } : {}) });
  }
  if (plan.note) await say(crew, at, clip, frame(plan.note.at), plan.note);
}

async function say(crew: Crew, at: (path: string) => string, clip: { id: string }, first: number, plan: NonNullable<DemoSelect['note']>): Promise<void> {
  const circle = Array.from({ length: 25 }, (_, n) => [0.62 + 0.12 * Math.cos((n / 24) * 2 * Math.PI), 0.35 + 0.16 * Math.sin((n / 24) * 2 * Math.PI)]);
  const note = await crew[plan.by].send<Note>('POST', at('/notes'), {
    clipId: clip.id,
    in: first,
    outExclusive: first + 1,
    text: plan.text,
    addressed: plan.to ? [crew[plan.to].userId] : [],
    ...(plan.drawing ? { drawing: { strokes: [circle] } } : {}),
  });
  if (plan.reply) await crew[plan.reply.by].send('POST', at('/notes'), { parentId: note.id, text: plan.reply.text });
  if (plan.settled) await crew.Teo.send('POST', at(`/notes/${note.id}/settle`));
}
