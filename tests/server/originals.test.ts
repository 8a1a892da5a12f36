// Originals with real files: made, transcoded to light versions, measured, listed by ffprobe, and joined.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { originalOf } from '../../server/originals/index.ts';
import { readOriginals } from '../../server/originals/lists.ts';
import { findTools } from '../../server/platform/ffmpeg.ts';
import { probe } from '../../server/proxies/probe.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let folder: string;
beforeAll(async () => {
  rig = await startRig();
  folder = mkdtempSync(join(tmpdir(), 'rushlight-originals-'));
});
afterAll(async () => {
  rmSync(folder, { recursive: true, force: true });
  await rig.close();
});

const run = (args: string[]) => execFileSync('ffmpeg', ['-v', 'error', '-y', ...args]);
const reportOn = (file: string): string => execFileSync('ffprobe', ['-v', 'error', '-show_format', '-show_streams', '-of', 'json', file]).toString();

/** An original with a timecode track and a reel, and the light version a transcoder makes of it. */
function shoot(name: string, { rate, timecode, seconds = 1 }: { rate: string; timecode: string | null; seconds?: number }): { original: string; light: string } {
  const [original, light] = [join(folder, `${name}.mov`), join(folder, `${name}_proxy.mp4`)];
  const reel = timecode === null ? [] : ['-timecode', timecode, '-metadata:s:v:0', 'reel_name=A001'];
  run(['-f', 'lavfi', '-i', `testsrc2=size=640x360:rate=${rate}:duration=${seconds}`, '-c:v', 'mjpeg', ...reel, original]);
  run(['-i', original, '-map', '0:v', '-vf', 'scale=160:-2', '-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p', light]);
  return { original, light };
}

async function addMeasured(file: string, card: string) {
  const measured = await probe(file, await findTools(null));
  const { startFrame, dropFrame, rate, frames, reel } = measured;
  return addClip(rig, { name: file.split('/').at(-1)!, card, rateNum: rate.num, rateDen: rate.den, frames, startFrame, dropFrame, reel, probe: JSON.parse(JSON.stringify(measured)) });
}

const state = async () => (await rig.as('assistant').get(rig.at('/originals'))).body;
const give = (text: string, card = 'A001', name = 'list') => rig.as('field').post(rig.at('/originals/lists'), { card, name, text });

it.each([
  ['DF', '30000/1001', '00:59:59;29'],
  ['FILM', '24000/1001', '10:00:00:00'],
  ['MIDNIGHT', '25', '23:59:59:20'],
  ['BARE', '25', null],
])('joins the light version of %s to its original by what ffprobe says of both', async (name, rate, timecode) => {
  const { original, light } = shoot(name, { rate, timecode });
  const clip = await addMeasured(light, 'A001');
  const { status, body: list } = await give(reportOn(original));
  expect(status).toBe(200);
  // The frames are counted by decoding, which neither reader does.
  const counted = Number(execFileSync('ffprobe', ['-v', 'error', '-count_frames', '-select_streams', 'v:0', '-show_entries', 'stream=nb_read_frames', '-of', 'csv=p=0', original]));
  const found = (await originalOf(rig.db, rig.film)).get(clip.id);
  expect(found).toMatchObject({ name: `${name}.mov`, card: 'A001', offset: 0, length: { frames: counted } });
  expect((await state()).joined.find(({ clipId }: { clipId: string }) => clipId === clip.id)).toMatchObject({ by: 'facts', words: [] });
  await rig.as('assistant').del(rig.at(`/originals/lists/${list.id}`));
  expect((await originalOf(rig.db, rig.film)).has(clip.id)).toBe(false);
  await rig.db.clip.delete({ where: { id: clip.id } });
});

it('shows an original that is longer and starts earlier, and keeps the offset when a person joins them', async () => {
  const { original } = shoot('LONG', { rate: '25', timecode: '01:00:00:00', seconds: 2 });
  const light = join(folder, 'LONG_light.mp4');
  run(['-f', 'lavfi', '-i', 'testsrc2=size=160x90:rate=25:duration=1', '-c:v', 'libx264', '-preset', 'ultrafast', '-timecode', '01:00:00:10', light]);
  const clip = await addMeasured(light, 'A001');
  await give(reportOn(original));
  const [open] = (await state()).open;
  expect(open).toMatchObject({ clipId: clip.id, candidates: [{ offset: 10, words: ['the original starts 10 frames earlier', 'the original is 25 frames longer'] }] });
  const { originalId } = open.candidates[0];

  const settle = (choice: unknown) => rig.as('assistant').put(rig.at(`/originals/choices/${clip.id}`), choice);
  const { body: before } = await settle({ joined: originalId, own: false, apart: [] });
  expect((await originalOf(rig.db, rig.film)).get(clip.id)).toMatchObject({ name: 'LONG.mov', offset: 10 });
  const other = await addMeasured(light, 'A001');
  expect((await rig.as('assistant').put(rig.at(`/originals/choices/${other.id}`), { joined: originalId, own: false, apart: [] })).body.code).toBe('original-taken');
  expect((await settle({ joined: 'A001/none.mov', own: false, apart: [] })).body.code).toBe('not-found');
  expect((await settle({ joined: originalId, own: true, apart: [] })).body.code).toBe('bad-input');
  expect((await rig.as('field').put(rig.at(`/originals/choices/${clip.id}`), before)).status).toBe(403);

  expect((await settle(before)).status).toBe(200);
  expect((await originalOf(rig.db, rig.film)).has(clip.id)).toBe(false);
  await settle({ joined: null, own: true, apart: [] });
  expect((await originalOf(rig.db, rig.film)).get(clip.id)).toBe('own');
});

it('refuses a list whole, and says where two lists contradict each other', async () => {
  const before = await rig.db.originalList.count();
  expect((await give('name,rate\nfine.mov,25\nbad.mov,quick\n')).body).toMatchObject({ code: 'manifest-damaged', fields: [{ field: 'line 3' }] });
  expect((await give('name,frames\n../x.mov,1\n')).body.code).toBe('manifest-path');
  expect((await give('name,frames\nx.mov,1\n', '  ')).body.code).toBe('bad-input');
  expect(await rig.db.originalList.count()).toBe(before);
  const text = 'name,frames\nq.mov,1\n';
  const { body: list } = await give(text);
  expect((await give(text)).body.code).toBe('same-list');
  expect((await give('name,frames\nq.mov,2\n')).body).toMatchObject({ code: 'original-differs', fields: [{ field: 'q.mov' }] });
  // Put aside, its contrary may come, and then it cannot come back.
  await rig.as('assistant').del(rig.at(`/originals/lists/${list.id}`));
  expect((await give('name,frames\nq.mov,2\n')).status).toBe(200);
  expect((await rig.as('assistant').post(rig.at(`/originals/lists/${list.id}/restore`))).body.code).toBe('original-differs');
});

it('reads what ffprobe says of the reel, the rate and the timecode', () => {
  const { original } = shoot('SAID', { rate: '30000/1001', timecode: '01:00:00;00' });
  expect(readOriginals(Buffer.from(reportOn(original)))).toMatchObject([{ path: 'SAID.mov', reel: 'A001', rate: { num: 30000, den: 1001 }, start: { frame: 107892, drop: true } }]);
});
