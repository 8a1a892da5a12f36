// The player by itself: `?clip=<name>&num=&den=&frames=&width=&height=`, and `plain` for a browser without WebCodecs.
import { flushSync, mount } from 'svelte';
import { FramePlayer } from '../../../../web/src/player/player.svelte.ts';
import PlayerView from '../../../../web/src/player/PlayerView.svelte';
import { readFrameNumber } from '../../../fixtures/frame-blocks.ts';

const asked = new URLSearchParams(location.search);
const number = (name: string) => Number(asked.get(name));
if (asked.has('plain')) Reflect.deleteProperty(globalThis, 'VideoDecoder');

const player = new FramePlayer({
  master: `/media/${asked.get('clip')}/master.m3u8`,
  rate: { num: number('num'), den: number('den') },
  frames: number('frames'),
  ...(asked.has('in') ? { range: { in: number('in'), outExclusive: number('outExclusive') } } : {}),
});
mount(PlayerView, { target: document.getElementById('page')!, props: { player, name: 'Invented footage', aspect: number('width') / number('height'), poster: null } });
flushSync();

const video = document.querySelector('video')!;
const canvas = document.querySelector('canvas')!;
const copy = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true })!;

/** The number in the picture of whichever layer is on top; null where none can be read. */
function read(): number | null {
  const top = getComputedStyle(canvas).visibility === 'visible' ? canvas : video;
  const [width, height] = top === canvas ? [canvas.width, canvas.height] : [video.videoWidth, video.videoHeight];
  if (copy.canvas.width !== width || copy.canvas.height !== height) Object.assign(copy.canvas, { width, height });
  copy.drawImage(top, 0, 0);
  return readFrameNumber(copy.getImageData(0, 0, width, height).data, width, height);
}

const paint = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));

/** What was answered, what `frame` says and what the picture says, once it is painted. */
async function shown(answered: Promise<number>): Promise<{ answered: number; frame: number; picture: number | null; layer: string }> {
  const frame = await answered;
  await paint();
  return { answered: frame, frame: player.frame, picture: read(), layer: player.shown };
}

const harness = { player, video, read, shown, paint };
export type Harness = typeof harness;
Object.assign(globalThis, { harness });
