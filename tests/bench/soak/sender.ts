// `node tests/bench/soak/sender.ts [GiB]`: a card of mixed sizes sent by the sender while it is killed twenty times and
// the server ten. Prints one JSON object: what arrived, what was left over, how many bytes were sent more than once.
import { createHash, randomBytes } from 'node:crypto';
import { createReadStream, mkdirSync, mkdtempSync, readdirSync, writeFileSync } from 'node:fs';
import { appendFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import startCluster from '../../fixtures/cluster.ts';
import { randomFrom } from '../../fixtures/random.ts';
import { startRig } from '../../fixtures/rig.ts';
import { startSender, withPassword } from '../../fixtures/sender.ts';
import { serverProcess } from '../../fixtures/server-process.ts';
import { smallClip } from '../../fixtures/small-clip.ts';

const GIB = 1024 ** 3;
const total = Number(process.argv[2] ?? 5) * GIB;
const KILLS = 20;
const SERVER_KILLS = 10;
const PIECE = 64 * 1024 * 1024;

const random = randomFrom(20);
const stop = await startCluster();
const work = mkdtempSync(join(tmpdir(), 'rushlight-soak-'));
const rig = await startRig();
const server = await serverProcess(rig);
try {
  const folder = join(work, 'SOAK');
  const files = await makeCard(folder);
  await server.start();
  const login = await withPassword(rig);
  const send = () => startSender([folder, '--to', `http://127.0.0.1:${server.port}`, '--film', rig.film], { login, cacheDir: join(work, 'cache') });
  const began = Date.now();
  let kills = 0;
  let serverKills = 0;
  let sending = send();
  while (kills < KILLS || serverKills < SERVER_KILLS) {
    const target = ((kills + serverKills + 1) / (KILLS + SERVER_KILLS + 2)) * total;
    while ((await here()) < target && sending.child.exitCode === null) await pause(20);
    if (sending.child.exitCode !== null) throw new Error(`It ended after ${kills} kills: ${sending.said()}`);
    if ((kills + serverKills) % 3 === 2 && serverKills < SERVER_KILLS) {
      await server.kill();
      await server.start();
      serverKills += 1;
    } else {
      sending.child.kill('SIGKILL');
      await sending.ended;
      kills += 1;
      sending = send();
    }
  }
  const code = await sending.ended;
  const wrong = [];
  for (const [path, sha1] of files) if ((await sumAt(path)) !== sha1) wrong.push(path);
  const left = readdirSync(rig.ground.storage.path('incoming', ''));
  const rows = await rig.db.upload.groupBy({ by: ['state'], _count: true });
  const clips = await rig.db.clip.count();
  console.log(JSON.stringify({ soak: 'sender', GiB: total / GIB, files: files.size, kills, serverKills, code, wrong: wrong.length, leftInIncoming: left.length, uploads: Object.fromEntries(rows.map(({ state, _count }) => [state, _count])), clips, seconds: Math.round((Date.now() - began) / 1000) }));
  if (code !== 0 || wrong.length || left.length) {
    console.error(sending.said());
    process.exitCode = 1;
  }
} finally {
  await server.kill();
  await rig.close();
  await rm(work, { recursive: true, force: true });
  await stop();
}

/** Real clips with padding: many small, some large, as cards have them; and a sidecar for each. */
async function makeCard(folder: string): Promise<Map<string, string>> {
  mkdirSync(join(folder, 'DCIM'), { recursive: true });
  const made = new Map<string, string>();
  for (let bytes = 0, n = 0; bytes < total; n++) {
    const size = Math.min(total - bytes, Math.floor(2 ** (20 + random() * 10)));
    const path = `DCIM/S_${String(n).padStart(4, '0')}.mp4`;
    const file = join(folder, path);
    const head = await smallClip();
    const box = Buffer.alloc(8);
    box.writeUInt32BE(size + 8);
    box.write('free', 4, 'latin1');
    const sum = createHash('sha1').update(head).update(box);
    writeFileSync(file, Buffer.concat([head, box]));
    const noise = randomBytes(Math.min(PIECE, size));
    for (let at = 0; at < size; at += PIECE) {
      const piece = noise.subarray(0, Math.min(PIECE, size - at));
      sum.update(piece);
      await appendFile(file, piece);
    }
    made.set(path, sum.digest('hex'));
    const sidecar = `<clip n="${n}"/>`;
    writeFileSync(`${file}.XML`, sidecar);
    made.set(`${path}.XML`, createHash('sha1').update(sidecar).digest('hex'));
    bytes += size;
  }
  return made;
}

async function here(): Promise<number> {
  const rows = await rig.db.upload.findMany({ where: { state: { in: ['arriving', 'arrived'] } }, select: { id: true, bytes: true, state: true } });
  const sizes = await Promise.all(rows.map(({ id, bytes, state }) => (state === 'arrived' ? Number(bytes) : rig.ground.storage.size('incoming', id).catch(() => 0))));
  return sizes.reduce((a, b) => a + b, 0);
}

async function sumAt(path: string): Promise<string | null> {
  const upload = await rig.db.upload.findFirst({ where: { sourcePath: `SOAK/${path}`, state: 'arrived' } });
  const clip = upload?.clipId ? await rig.db.clip.findUnique({ where: { id: upload.clipId } }) : null;
  const at = upload?.keptPath ?? clip?.originalPath;
  if (!at) return null;
  const sum = createHash('sha1');
  for await (const chunk of createReadStream(rig.ground.storage.path('originals', at))) sum.update(chunk as Buffer);
  return sum.digest('hex');
}
