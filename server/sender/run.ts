// One run: look at the folder, send what stands still, look again if it is still being copied, then give the list of
// everything that was seen and ask the server for the proof.
import { writeFile } from 'node:fs/promises';
import { basename, resolve } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { listLine } from '#core/card-files.ts';
import type { Card, Proof } from '../cards/contract.ts';
import type { Clip } from '../footage/contract.ts';
import type { Film } from '../films/contract.ts';
import type { Upload } from '../intake/contract.ts';
import { Memory } from './memory.ts';
import { Stop, type Options } from './options.ts';
import { Progress, type Out } from './progress.ts';
import { sendFile, type Outcome, type Way } from './send-file.ts';
import { Patience, Server, type Credentials } from './server.ts';
import { look, Standing, walk, type Found, type Walked } from './walk.ts';

const LOOK_EVERY_MS = 2000;
/** A server without a worker never ends checking; then it is told as it is. */
const CHECKED_WITHIN_MS = 15 * 60_000;
const CARD_NAME = 80;
/** Words for what the server says of a card: the states of a proof that are no good. */
const BAD = ['missing', 'changed', 'unproved', 'extra', 'unchecked', 'arriving'] as const;
const NAMED_AT_MOST = 20;

/** Sends a folder. @returns the code to end with. @throws Stop. */
export async function run(options: Options, credentials: Credentials, { out, cacheDir }: { out: Out; cacheDir: string }): Promise<0 | 1> {
  const progress = new Progress(out);
  const say = (words: string) => progress.say(words);
  const folder = resolve(options.folder);
  const first = await walk(folder);
  if (first.files.length === 0 && !options.follow) throw new Stop(5, `${folder} holds no file to send.`);

  const server = new Server(options.to, credentials, () => new Patience(options.patienceMs, say));
  await server.signIn();
  const film = await filmOf(server, options.film);
  const card = await server.ask<Card>('POST', `/api/films/${film.id}/cards`, { name: (options.card ?? (basename(folder) || 'card')).slice(0, CARD_NAME) });
  const memory = new Memory(cacheDir, [folder, options.to, film.id, card.id]);
  say(`Sending ${folder} as card ${card.name} to ${film.title} at ${options.to}.`);

  const { isHere, begun } = await known(server, film.id, card);
  const way: Way = { server, memory, film: film.id, card: card.name, camera: options.camera, isHere, begun, tell: (found, done) => progress.tell(found, done) };
  const { outcomes, last } = await sendAll(options, way, progress, first, folder);

  const list = [...outcomes.values()].flatMap(({ found, outcome }) => (outcome.xxh64 === null ? [] : [listLine(found.path, outcome.xxh64)])).join('');
  if (options.list) await writeFile(options.list, list);
  if (list) await server.ask('POST', `/api/films/${film.id}/cards/${card.id}/manifests`, { name: 'made by the sender at the source', text: list });
  await withdrawLeft(server, film.id, card, outcomes);
  const proof = await proofOf(server, `/api/films/${film.id}/cards/${card.id}/proof`, say);
  const failed = [...outcomes.values()].filter(({ outcome }) => outcome.state !== 'arrived');
  report(say, proof, failed, last);
  if (failed.length || !proof.allReceived) return 1;
  await memory.forget();
  return 0;
}

/** The proof, once the server has made the checksums that other lists of the card ask for. */
async function proofOf(server: Server, path: string, say: (words: string) => void): Promise<Proof> {
  const until = Date.now() + CHECKED_WITHIN_MS;
  for (let told = false; ; told = true) {
    const proof = await server.ask<Proof>('GET', path);
    if (proof.counts.unchecked === 0 || Date.now() > until) return proof;
    if (!told) say(`The server is checking ${proof.counts.unchecked} files against other lists of the card …`);
    await pause(LOOK_EVERY_MS / 2);
  }
}

type Outcomes = Map<string, { found: Found; outcome: Outcome }>;

async function sendAll(options: Options, way: Way, progress: Progress, first: Walked, folder: string): Promise<{ outcomes: Outcomes; last: Walked }> {
  const outcomes: Outcomes = new Map();
  const standing = new Standing(options.follow ? options.stillMs : 0, Date.now());
  let walked = first;
  for (;;) {
    progress.expect(walked.files);
    const due = standing.look(walked.files, Date.now()).filter((found) => isDue(outcomes.get(found.path), found));
    await atOnce(options.atOnce, due, async (found) => {
      const outcome = await sendFile(way, found);
      outcomes.set(found.path, { found, outcome });
      if (outcome.state === 'arrived') progress.arrived += 1;
      progress.say(`${found.path}: ${outcome.words}`);
    });
    // What changed while it was sent is sent again as it is now, once the folder was looked at anew.
    const changing = [...outcomes.values()].filter(({ outcome }) => outcome.state === 'changing');
    if (!options.follow) {
      if (changing.length === 0 || due.length === 0) return { outcomes, last: walked };
      for (const { found } of changing) outcomes.delete(found.path);
    } else if (due.length === 0) {
      const unsent = walked.files.some((found) => isDue(outcomes.get(found.path), found));
      if (!unsent && Date.now() - standing.changedAt >= options.quietMs) return { outcomes: await stillThere(outcomes), last: walked };
      await pause(Math.min(LOOK_EVERY_MS, Math.max(50, options.stillMs / 2)));
    }
    walked = await walk(folder);
  }
}

/** Not sent yet, or not as it is now. */
function isDue(before: { found: Found; outcome: Outcome } | undefined, found: Found): boolean {
  return !before || before.outcome.state === 'changing' || before.found.size !== found.size || before.found.mtimeMs !== found.mtimeMs;
}

/** Files that were renamed or taken away while the folder was followed are no part of it any more. */
async function stillThere(outcomes: Outcomes): Promise<Outcomes> {
  const there = await Promise.all([...outcomes].map(async ([path, one]) => ((await look(one.found)) ? [[path, one] as const] : [])));
  return new Map(there.flat());
}

/** Works on several at a time; the first that throws ends all, when those under way have ended. */
async function atOnce<T>(n: number, items: readonly T[], work: (item: T) => Promise<void>): Promise<void> {
  const queue = [...items];
  const ended = await Promise.allSettled(
    Array.from({ length: n }, async () => {
      for (let item = queue.shift(); item !== undefined; item = queue.shift())
        await work(item).catch((error: unknown) => {
          queue.length = 0;
          throw error;
        });
    }),
  );
  for (const one of ended) if (one.status === 'rejected') throw one.reason;
}

async function filmOf(server: Server, named: string | null): Promise<Film> {
  const films = (await server.ask<{ film: Film }[]>('GET', '/api/films')).map(({ film }) => film);
  const fitting = named === null ? films : films.filter(({ id, title }) => id === named || title === named);
  const [film, ...more] = fitting;
  if (film && more.length === 0) return film;
  const names = films.map(({ title, id }) => `  ${title} (${id})`).join('\n');
  throw new Stop(films.length ? 2 : 3, films.length ? `Say --film with one of these:\n${names}` : 'You are a member of no film here.');
}

/**
 * What need not be sent: clips of the film by their bytes, and files of this very card by path and bytes. And what was
 * begun by a run that was killed before it could remember it.
 */
async function known(server: Server, filmId: string, card: Card): Promise<Pick<Way, 'isHere' | 'begun'>> {
  const clips = new Set((await server.ask<Clip[]>('GET', `/api/films/${filmId}/clips`)).map(({ xxh64, bytes }) => `${xxh64} ${bytes}`));
  const uploads = await uploadsOf(server, filmId, card);
  const beside = new Set(uploads.filter((upload) => upload.beside).map(({ xxh64, bytes, sourcePath }) => `${xxh64} ${bytes} ${sourcePath}`));
  const open = new Map(uploads.filter(({ state }) => state === 'arriving').map(({ id, bytes, sourcePath }) => [`${bytes} ${sourcePath}`, `/api/films/${filmId}/uploads/${id}`]));
  return {
    isHere: ({ path, size }, xxh64) => clips.has(`${xxh64} ${size}`) || beside.has(`${xxh64} ${size} ${path}`),
    begun: ({ path, size }) => {
      const address = open.get(`${size} ${path}`) ?? null;
      open.delete(`${size} ${path}`);
      return address;
    },
  };
}

const uploadsOf = async (server: Server, filmId: string, card: Card): Promise<Upload[]> =>
  (await server.ask<Upload[]>('GET', `/api/films/${filmId}/uploads`)).filter(({ cardId }) => cardId === card.id);

/** Takes back what runs that were killed have begun and nobody will go on with, since the file is there by now. */
async function withdrawLeft(server: Server, filmId: string, card: Card, outcomes: Outcomes): Promise<void> {
  const left = (await uploadsOf(server, filmId, card)).filter(({ state, sourcePath }) => state === 'arriving' && outcomes.get(sourcePath)?.outcome.state === 'arrived');
  // One begun by somebody else is theirs to go on with.
  for (const { id } of left) await server.withdraw(`/api/films/${filmId}/uploads/${id}`);
}

function report(say: (words: string) => void, proof: Proof, failed: { found: Found; outcome: Outcome }[], { leftOut }: Walked): void {
  for (const { found, outcome } of failed) say(`NOT SENT ${found.path}: ${outcome.words}`);
  const bad = proof.files.filter(({ state }) => (BAD as readonly string[]).includes(state));
  for (const { path, state, why } of bad.slice(0, NAMED_AT_MOST)) say(`${state.toUpperCase()} ${path}${why ? `: ${why}` : ''}`);
  if (bad.length > NAMED_AT_MOST) say(`… and ${bad.length - NAMED_AT_MOST} more; the card's page names them all.`);
  if (leftOut.length) say(`Left out (${leftOut.length}): ${leftOut.slice(0, NAMED_AT_MOST).join(', ')}${leftOut.length > NAMED_AT_MOST ? ' …' : ''}`);
  say(proof.allReceived && failed.length === 0 ? `All received: ${proof.counts.verified} files, every checksum the same as at the source.` : `Not all received: ${proof.counts.verified} of ${proof.listed} verified.`);
  say('Whether the card may be wiped is for your crew’s own rule to say. Keep two copies on two devices.');
}
