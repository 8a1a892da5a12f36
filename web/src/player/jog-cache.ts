import { groupStart } from '#core/hls-time.ts';
import { frameFromMediaTime, nominal, type Rate } from '#core/rate.ts';
import { Segments } from './segments.ts';

/**
 * Pictures that all players of a page keep together, about 0.8 MB each at 540 lines. At 60 frames a second that is the
 * group at the playhead and both its neighbours; with fewer, turning round decodes again what was just dropped.
 */
const PICTURES = 180;
/** The groups that stepping needs: the one at the playhead and its neighbour. */
const GROUPS_IN_USE = 2;

/*
 * The frames around the playhead, decoded ahead from the proxy's own segments, so that stepping back is as fast as
 * stepping forward. Closed groups of a second are decoded whole: the one the playhead is in, then the neighbour it is
 * nearer to. What is kept is bounded for the whole page: what lies farthest from the playhead of the player that was used
 * longest ago goes first. Decodes run one after the other; one that nobody waits for
 * any more is skipped.
 */
export class JogCache {
  /** Those that hold pictures, the last used at the end. */
  static readonly #all = new Set<JogCache>();
  readonly #rate: Rate;
  readonly #total: () => number;
  readonly #segments: Segments;
  readonly #groups = new Map<number, Map<number, VideoFrame>>();
  readonly #loading = new Map<number, Promise<void>>();
  #queue: Promise<unknown> = Promise.resolve();
  #centre = 0;
  #closed = false;

  /** Whether this browser can do it; otherwise plain seeking serves. */
  static supported(): boolean {
    return 'VideoDecoder' in globalThis;
  }

  /** @param total frames that exist so far */
  constructor(master: string, rate: Rate, total: () => number) {
    this.#rate = rate;
    this.#total = total;
    this.#segments = new Segments(master, rate);
  }

  /** The picture of a frame when it is at hand. It stays the cache's: draw it now, do not keep it. */
  get(frame: number): VideoFrame | null {
    return this.#groups.get(groupStart(frame, this.#rate))?.get(frame) ?? null;
  }

  /** Makes the group of a frame ready, and then, without being waited for, the neighbour it is nearer to. */
  async load(frame: number): Promise<void> {
    this.#centre = frame;
    const group = groupStart(frame, this.#rate);
    const length = nominal(this.#rate);
    const neighbour = frame - group < length / 2 ? group - length : group + length;
    const here = this.#ready(group);
    if (neighbour >= 0 && neighbour < this.#total()) this.#ready(neighbour).catch(() => {});
    await here;
  }

  close(): void {
    this.#closed = true;
    JogCache.#all.delete(this);
    this.#segments.destroy();
    for (const group of [...this.#groups.keys()]) this.#drop(group);
  }

  #ready(group: number): Promise<void> {
    if (this.#groups.has(group)) return Promise.resolve();
    const loading = this.#loading.get(group);
    if (loading) return loading;
    const work = this.#queue.then(() => this.#decode(group)).finally(() => this.#loading.delete(group));
    this.#queue = work.catch(() => {});
    this.#loading.set(group, work);
    return work;
  }

  async #decode(group: number): Promise<void> {
    const length = nominal(this.#rate);
    // The playhead may have gone elsewhere while this waited its turn.
    if (this.#closed || Math.abs(group - groupStart(this.#centre, this.#rate)) > length) return;
    const { config, packets } = await this.#segments.of(group);
    const pictures = new Map<number, VideoFrame>();
    const copies: Promise<void>[] = [];
    let failure: DOMException | null = null;
    const decoder = new VideoDecoder({
      output: (picture) => copies.push(ownCopy(picture).then((copy) => void pictures.set(frameFromMediaTime(copy.timestamp / 1e6, this.#rate), copy))),
      error: (error) => (failure = error),
    });
    try {
      decoder.configure({ ...config, optimizeForLatency: true });
      for (let frame = group; frame < group + length; frame++) {
        const packet = packets.get(frame);
        if (packet) decoder.decode(packet.toEncodedVideoChunk());
      }
      await decoder.flush();
      await Promise.all(copies);
    } catch (error) {
      await Promise.allSettled(copies);
      for (const picture of pictures.values()) picture.close();
      throw failure ?? error;
    } finally {
      if (decoder.state !== 'closed') decoder.close();
    }
    if (this.#closed) for (const picture of pictures.values()) picture.close();
    else this.#keep(group, pictures);
  }

  #keep(group: number, pictures: Map<number, VideoFrame>): void {
    this.#groups.set(group, pictures);
    JogCache.#all.delete(this);
    JogCache.#all.add(this);
    const count = () => [...JogCache.#all].reduce((sum, cache) => sum + cache.#size, 0);
    for (const cache of JogCache.#all) {
      const spare = cache === this ? GROUPS_IN_USE : 0;
      while (count() > PICTURES && cache.#groups.size > spare) cache.#drop(cache.#farthest);
    }
  }

  get #size(): number {
    return [...this.#groups.values()].reduce((sum, pictures) => sum + pictures.size, 0);
  }

  get #farthest(): number {
    return [...this.#groups.keys()].reduce((a, b) => (Math.abs(a - this.#centre) > Math.abs(b - this.#centre) ? a : b));
  }

  #drop(group: number): void {
    for (const picture of this.#groups.get(group)?.values() ?? []) picture.close();
    this.#groups.delete(group);
  }
}

/**
 * The same picture in memory of our own; the given one is closed. A decoder in hardware has few pictures to give out and
 * waits for ever when they are kept.
 */
async function ownCopy(picture: VideoFrame): Promise<VideoFrame> {
  try {
    const { format, visibleRect, displayWidth, displayHeight, timestamp, colorSpace } = picture;
    if (!format || !visibleRect) {
      const bitmap = await createImageBitmap(picture);
      const copy = new VideoFrame(bitmap, { timestamp });
      bitmap.close();
      return copy;
    }
    const bytes = new Uint8Array(picture.allocationSize());
    const layout = await picture.copyTo(bytes);
    const { width: codedWidth, height: codedHeight } = visibleRect;
    return new VideoFrame(bytes, { format, codedWidth, codedHeight, displayWidth, displayHeight, timestamp, colorSpace, layout });
  } finally {
    picture.close();
  }
}
