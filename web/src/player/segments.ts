import { BufferSource, EncodedPacketSink, Input, MP4, type EncodedPacket } from 'mediabunny';
import { segmentOfFrame } from '#core/hls-time.ts';
import { frameFromMediaTime, type Rate } from '#core/rate.ts';

/** A segment's pictures as they are coded, by frame number of the clip. */
export interface CodedSegment {
  config: VideoDecoderConfig;
  packets: Map<number, EncodedPacket>;
}

const KEPT = 6;

/*
 * The picture segments of a proxy, fetched and taken apart, the last few kept. The list is read again when a frame lies
 * past its end, because a proxy may still be growing.
 */
export class Segments {
  readonly #list: URL;
  readonly #rate: Rate;
  readonly #kept = new Map<number, Promise<CodedSegment>>();
  readonly #abort = new AbortController();
  #names: string[] = [];
  #init: Promise<ArrayBuffer> | null = null;

  constructor(master: string, rate: Rate) {
    this.#list = new URL('picture.m3u8', new URL(master, location.href));
    this.#rate = rate;
  }

  /** The segment that holds a frame. Rejects where there is none, or none that may be fetched. */
  async of(frame: number): Promise<CodedSegment> {
    const index = segmentOfFrame(frame, this.#rate);
    const kept = this.#kept.get(index);
    this.#kept.delete(index);
    const wanted = kept ?? this.#fetch(index);
    this.#kept.set(index, wanted);
    wanted.catch(() => this.#kept.delete(index));
    for (const [old] of this.#kept) if (this.#kept.size > KEPT) this.#kept.delete(old);
    return wanted;
  }

  destroy(): void {
    this.#abort.abort();
    this.#kept.clear();
  }

  async #fetch(index: number): Promise<CodedSegment> {
    if (index >= this.#names.length) await this.#readList();
    const name = this.#names[index];
    if (name === undefined) throw new RangeError(`There is no segment ${index} yet.`);
    this.#init ??= this.#bytes('picture_init.mp4').catch((error: unknown) => {
      this.#init = null;
      throw error;
    });
    const [init, media] = await Promise.all([this.#init, this.#bytes(name)]);
    const whole = new Uint8Array(init.byteLength + media.byteLength);
    whole.set(new Uint8Array(init));
    whole.set(new Uint8Array(media), init.byteLength);
    using input = new Input({ formats: [MP4], source: new BufferSource(whole) });
    const track = await input.getPrimaryVideoTrack();
    const config = await track?.getDecoderConfig();
    if (!track || !config) throw new Error('The segment holds no picture.');
    const packets = new Map<number, EncodedPacket>();
    for await (const packet of new EncodedPacketSink(track).packets()) packets.set(frameFromMediaTime(packet.timestamp, this.#rate), packet);
    return { config, packets };
  }

  async #readList(): Promise<void> {
    const text = new TextDecoder().decode(await this.#bytes(this.#list.href));
    this.#names = text.split('\n').filter((line) => line !== '' && !line.startsWith('#'));
  }

  async #bytes(name: string): Promise<ArrayBuffer> {
    const answer = await fetch(new URL(name, this.#list), { signal: this.#abort.signal });
    if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
    return answer.arrayBuffer();
  }
}
