import { middleOfFrameSeconds, type Rate } from '#core/rate.ts';
import type { FrameRange } from '#core/range.ts';
import { HlsSource } from './hls-source.ts';
import { JogCache } from './jog-cache.ts';
import { VideoFrames } from './video-frames.ts';
import { setVolume, volumeNow } from './volume.svelte.ts';

export interface Playable {
  /** Address of master.m3u8. */
  master: string;
  rate: Rate;
  /** Frames of the whole clip. */
  frames: number;
  /** False for what is not cut as a proxy is: then stepping seeks. */
  jogs?: boolean;
  /** What `FramePlayer.range` begins with. */
  range?: FrameRange | null;
}

/** `pictures`: how many pictures came on screen since the last call, more than one where the page was too busy to be told of each. */
export type FrameListener = (frame: number, pictures: number) => void;

const FASTEST = 8;
const FOLLOW_MS = 180;

/*
 * A player that speaks frames. What is on screen comes from one of two hands:
 *   video:  the element shows its picture; `frame` is the mediaTime of the last presented frame, never currentTime
 *   canvas: a picture of the jog cache is drawn over the element, which follows once stepping rests
 * Every seek is checked against the frame that was presented and made again until it is right. Each command has a number;
 * one that finds a newer one gives up.
 */
export class FramePlayer {
  /** The frame on screen. */
  frame = $state(0);
  playing = $state(false);
  /** Signed speed of the shuttle; 1 is forward as recorded. */
  speed = $state(1);
  ready = $state(false);
  waiting = $state(false);
  failure: string | null = $state(null);
  /** Frames that can be shown; grows while the proxy is still being made. */
  available = $state(0);
  /** Which hand shows the picture. */
  shown: 'video' | 'canvas' = $state('video');
  loop: FrameRange | null = $state.raw(null);
  muted = $state(false);
  /** Nothing outside is shown, where the whole clip is not wanted or may not be seen; follows a trim. */
  range: FrameRange | null = $state.raw(null);

  readonly rate: Rate;
  readonly frames: number;
  readonly #master: string;
  readonly #cache: JogCache | null;
  #element: VideoFrames | null = null;
  #canvas: HTMLCanvasElement | null = null;
  #source: HlsSource | null = null;
  #told = -1;
  /** On the way from the end of the loop to its beginning. */
  #turning = false;
  /** Where the seek under way leads, and the seek; null when there is none. */
  #heading: { to: number; there: Promise<number> } | null = null;
  /** A pause under way or arrived, until something else is asked for. */
  #resting: Promise<number> | null = null;
  #command = 0;
  /** Before there is data a seek would be remembered and not answered, or undone by the loader's own first one: it waits. */
  readonly #loaded = Promise.withResolvers<void>();
  #follow: number | null = null;
  readonly #listeners = new Set<FrameListener>();
  /** Pictures the element had presented when the listeners were last told. */
  #picturesTold = 0;

  constructor({ master, rate, frames, range, jogs = true }: Playable) {
    this.#master = master;
    this.range = range ?? null;
    this.rate = rate;
    this.frames = frames;
    this.#cache = jogs && JogCache.supported() ? new JogCache(master, rate, () => this.available) : null;
  }

  /** Begins to load, on the page or not yet. @returns the element, and the canvas that is to lie exactly over it. */
  load(): { video: HTMLVideoElement; canvas: HTMLCanvasElement } {
    if (this.#element && this.#canvas) return { video: this.#element.video, canvas: this.#canvas };
    const [video, canvas] = [document.createElement('video'), document.createElement('canvas')];
    const element = new VideoFrames(video, this.rate, (frame) => this.#onPresented(frame));
    this.#element = element;
    this.#canvas = canvas;
    this.#source = new HlsSource(video, this.#master, middleOfFrameSeconds(this.#first, this.rate), {
      length: (seconds) => (this.available = Math.min(this.frames, Math.round((seconds * this.rate.num) / this.rate.den))),
      buffered: () => element.buffered(),
      failed: (words) => {
        this.failure = words;
        this.#loaded.resolve();
      },
    });
    const loaded = () => {
      this.ready = true;
      this.#loaded.resolve();
    };
    video.addEventListener('loadeddata', loaded, { once: true });
    video.addEventListener('ended', () => void this.#atEnd());
    video.addEventListener('waiting', () => (this.waiting = true));
    for (const event of ['playing', 'seeked']) video.addEventListener(event, () => (this.waiting = false));
    return { video, canvas };
  }

  /** Hears every frame that comes on screen; the function answered stops it. */
  listen(listener: FrameListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  destroy(): void {
    this.#command++;
    this.playing = false;
    this.#element?.close();
    if (this.#follow !== null) window.clearTimeout(this.#follow);
    this.#source?.destroy();
    this.#cache?.close();
    this.#element = null;
  }

  /** Shows exactly this frame, held inside what there is, and stops there. @returns the frame then on screen. */
  seek(frame: number): Promise<number> {
    const command = this.#begin();
    this.#stop();
    this.loop = null;
    const to = this.#inside(frame);
    const there = this.#goTo(to, command).finally(() => {
      if (command === this.#command) this.#heading = null;
    });
    this.#heading = { to, there };
    return there;
  }

  /** Steps by frames, both ways, from where the last step leads. @returns the frame then on screen. */
  step(by: number): Promise<number> {
    return this.seek((this.#heading?.to ?? this.frame) + by);
  }

  async #goTo(target: number, command: number): Promise<number> {
    if (this.#draw(target)) {
      void this.#cache?.load(target).catch(() => {});
      this.#followLater(target, command);
      return this.frame;
    }
    const drawn = this.#cache ? this.#cache.load(target).then(() => command === this.#command && this.#draw(target), () => false) : Promise.resolve(false);
    // Whichever hand is ready first; they show the same frame.
    const sought = this.#seekVideo(target, command);
    await Promise.race([drawn.then((done) => (done ? undefined : sought)), sought]);
    // A newer seek is answered for both: the frame on screen is the one it led to.
    if (command !== this.#command && this.#heading) return this.#heading.there;
    return this.frame;
  }

  /** As seek, with the element itself at the frame, so that playing begins from it at once. @returns the frame then on screen. */
  async cue(frame: number): Promise<number> {
    const arriving = this.seek(frame);
    const command = this.#command;
    const at = await arriving;
    if (command !== this.#command) return at;
    await this.#seekVideo(at, command);
    if (command === this.#command) this.shown = 'video';
    return at;
  }

  /** Where the element is, in seconds, between frames too: to hold players in step by, never to say a frame by. */
  get seconds(): number {
    return this.#video?.currentTime ?? 0;
  }

  /** Plays a little faster or slower than `speed` until told otherwise or played anew; 1 is exact. */
  lean(factor: number): void {
    if (this.#video && this.playing) this.#video.playbackRate = Math.abs(this.speed) * factor;
  }

  async play(speed = 1): Promise<void> {
    const command = this.#begin();
    this.#stop();
    const video = this.#video;
    if (!video) return;
    const { in: first, outExclusive: end } = this.#bounds;
    const from = this.frame >= end - 1 || this.frame < first ? first : this.frame;
    if (this.shown === 'canvas' || from !== this.#element?.presented || video.ended) await this.#seekVideo(from, command);
    if (command !== this.#command) return;
    this.shown = 'video';
    this.speed = speed;
    this.playing = true;
    video.playbackRate = speed;
    video.preservesPitch = true;
    video.muted = this.muted;
    await video.play().catch(() => {
      if (command === this.#command) this.playing = false;
    });
  }

  /** Stops; a seek under way is let arrive. @returns the frame that stays on screen. */
  async pause(): Promise<number> {
    if (this.#heading) return this.#heading.there;
    if (this.#resting) return this.#resting;
    const command = this.#begin();
    const wasPlaying = this.playing && this.speed > 0;
    this.#stop();
    this.#resting = this.#comeToRest(wasPlaying, command);
    return this.#resting;
  }

  async #comeToRest(wasPlaying: boolean, command: number): Promise<number> {
    if (wasPlaying) {
      await twoPaints();
      // A picture can come later still, at 50 frames a second it was seen to: the element is held to the frame that is said.
      if (command === this.#command) await this.#seekVideo(this.frame, command);
    }
    void this.#cache?.load(this.frame).catch(() => {});
    return this.frame;
  }

  async toggle(): Promise<void> {
    if (this.playing) await this.pause();
    else await this.play();
  }

  /** One press of J (-1), K (0) or L (1): the same way again goes twice as fast, up to 8 times. */
  async shuttle(way: -1 | 0 | 1): Promise<void> {
    if (way === 0) return void (await this.pause());
    const same = this.playing && Math.sign(this.speed) === way;
    const speed = same ? Math.min(FASTEST, Math.abs(this.speed) * 2) : 1;
    if (way === 1) await this.play(speed);
    else await this.#playBack(speed);
  }

  /** Plays a stretch again and again until something else is asked for. */
  async playRange(range: FrameRange): Promise<void> {
    const arriving = this.seek(range.in);
    const command = this.#command;
    await arriving;
    if (command !== this.#command) return;
    this.loop = range;
    await this.play();
  }

  toggleSound(): void {
    this.muted = !this.muted;
    if (this.#video) this.#video.muted = this.muted;
  }

  /** 0 to 1, the same for all players; PlayerView gives it to the element. */
  get volume(): number {
    return volumeNow();
  }

  setVolume(volume: number): void {
    setVolume(volume);
  }

  get #video(): HTMLVideoElement | null {
    return this.#element?.video ?? null;
  }

  get #first(): number {
    return this.range?.in ?? 0;
  }

  /** What is played: the loop, or what there is of the range or the clip. */
  get #bounds(): FrameRange {
    if (this.loop) return this.loop;
    const end = this.available || this.frames;
    return { in: this.#first, outExclusive: Math.max(this.#first + 1, Math.min(this.range?.outExclusive ?? end, end)) };
  }

  #begin(): number {
    this.#heading = null;
    this.#resting = null;
    if (this.#follow !== null) window.clearTimeout(this.#follow);
    this.#follow = null;
    return ++this.#command;
  }

  #stop(): void {
    this.#video?.pause();
    this.playing = false;
    this.speed = 1;
  }

  #inside(frame: number): number {
    const { in: first, outExclusive } = this.#bounds;
    return Math.max(first, Math.min(Math.round(frame), outExclusive - 1));
  }

  /** Draws a frame of the cache. @returns whether it was at hand. */
  #draw(frame: number): boolean {
    const picture = this.#cache?.get(frame);
    const canvas = this.#canvas;
    if (!picture || !canvas) return false;
    if (canvas.width !== picture.displayWidth || canvas.height !== picture.displayHeight) {
      canvas.width = picture.displayWidth;
      canvas.height = picture.displayHeight;
    }
    canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    this.shown = 'canvas';
    this.#onScreen(frame);
    return true;
  }

  /** The element goes where the canvas is once stepping rests, so that playing begins without a wait. */
  #followLater(frame: number, command: number): void {
    this.#follow = window.setTimeout(() => void this.#seekVideo(frame, command), FOLLOW_MS);
  }

  /** Leads the element to a frame, which is then on screen. */
  async #seekVideo(target: number, command: number): Promise<void> {
    if (!this.ready) await this.#loaded.promise;
    if (this.failure !== null && !this.ready) return;
    const presented = await this.#element?.seek(target, () => command === this.#command);
    if (!presented || command !== this.#command) return;
    if (this.shown === 'canvas' && this.frame !== target) this.shown = 'video';
    if (this.shown === 'video') this.#onScreen(target);
  }

  #onPresented(frame: number): void {
    if (this.shown === 'video') this.#onScreen(frame);
    if (this.playing && this.speed > 0 && frame >= this.#bounds.outExclusive - 1) this.#atBound();
  }

  async #playBack(speed: number): Promise<void> {
    const command = this.#begin();
    this.#stop();
    this.playing = true;
    this.speed = -speed;
    const [from, since] = [this.frame, performance.now()];
    while (command === this.#command) {
      const target = this.#inside(from - Math.floor(((performance.now() - since) / 1000) * speed * (this.rate.num / this.rate.den)));
      await this.#cache?.load(target).catch(() => {});
      if (command === this.#command && !this.#draw(target)) await this.#seekVideo(target, command);
      if (target === this.#first) break;
      await onePaint();
    }
    if (command !== this.#command) return;
    this.#stop();
    this.#followLater(this.frame, command);
  }

  /** The last frame of what is played is on screen. */
  #atBound(): void {
    if (this.loop) void this.#again(this.loop.in);
    // The end of the clip comes by itself, and while the proxy grows, more may come.
    else if (this.range && this.range.outExclusive <= this.available) void this.seek(this.range.outExclusive - 1);
  }

  /** From the beginning of the loop. The element rests meanwhile, or it would run on past the end. */
  async #again(first: number): Promise<void> {
    const video = this.#video;
    if (this.#turning || !video) return;
    this.#turning = true;
    const command = this.#command;
    video.pause();
    await this.#seekVideo(first, command);
    this.#turning = false;
    if (command === this.#command) await video.play().catch(() => this.#stop());
  }

  async #atEnd(): Promise<void> {
    if (this.loop) return void (await this.play());
    this.#stop();
  }

  #onScreen(frame: number): void {
    if (frame === this.#told) return;
    this.#told = frame;
    this.frame = frame;
    const shown = this.#element?.pictures ?? 0;
    const pictures = this.shown === 'canvas' ? 1 : Math.max(1, shown - this.#picturesTold);
    this.#picturesTold = shown;
    for (const listener of this.#listeners) listener(frame, pictures);
  }
}

const onePaint = () => new Promise<void>((done) => requestAnimationFrame(() => done()));

async function twoPaints(): Promise<void> {
  await onePaint();
  await onePaint();
}
