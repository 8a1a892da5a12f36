import { frameFromMediaTime, frameStartSeconds, middleOfFrameSeconds, type Rate } from '#core/rate.ts';

/** How long a presented picture may be late after `seeked` before the seek is taken to have changed nothing. */
const SETTLE_MS = 150;
/** Without data `seeked` does not come: after this long the buffer is looked at, and the seek made again. */
const STALLED_MS = 2000;
const BUFFER_WAIT_MS = 500;
const SEEK_TRIES = 40;

/** A video element that speaks frames: which one it presents, by its mediaTime, and seeks that are made again until they are right. */
export class VideoFrames {
  /** The frame the element presented last; -1 before the first. */
  presented = -1;
  /** Pictures it has presented in all. */
  pictures = 0;
  readonly video: HTMLVideoElement;
  readonly #rate: Rate;
  readonly #onPresented: (frame: number) => void;
  #watching = 0;
  readonly #whenPresented = new Set<(frame: number) => void>();
  readonly #whenBuffered = new Set<() => void>();

  constructor(video: HTMLVideoElement, rate: Rate, onPresented: (frame: number) => void) {
    this.video = video;
    this.#rate = rate;
    this.#onPresented = onPresented;
    this.#watch();
  }

  close(): void {
    this.video.cancelVideoFrameCallback(this.#watching);
  }

  /** To be told when the element has more to show. */
  buffered(): void {
    for (const heard of [...this.#whenBuffered]) heard();
  }

  /**
   * Seeks until the element has presented the frame.
   * @param wanted asked after every wait; a seek that is not wanted any more gives up.
   * @returns whether the frame is presented, and still wanted.
   */
  async seek(target: number, wanted: () => boolean): Promise<boolean> {
    for (let tries = 0; tries < SEEK_TRIES && wanted(); tries++) {
      if (!this.#isBuffered(target) && tries > 0) await this.#moreBuffered();
      if (!wanted()) return false;
      if ((await this.#seekOnce(target)) === target) return wanted();
    }
    return false;
  }

  #seekOnce(target: number): Promise<number> {
    const { video } = this;
    return new Promise((resolve) => {
      const end = () => {
        this.#whenPresented.delete(onFrame);
        video.removeEventListener('seeked', onSeeked);
        window.clearTimeout(timer);
        resolve(this.presented);
      };
      const onFrame = (frame: number) => frame === target && end();
      const onSeeked = () => {
        window.clearTimeout(timer);
        timer = window.setTimeout(end, SETTLE_MS);
      };
      let timer = window.setTimeout(end, STALLED_MS);
      this.#whenPresented.add(onFrame);
      video.addEventListener('seeked', onSeeked);
      video.currentTime = middleOfFrameSeconds(target, this.#rate);
    });
  }

  #isBuffered(frame: number): boolean {
    const ranges = this.video.buffered;
    const at = frameStartSeconds(frame, this.#rate);
    for (let n = 0; n < ranges.length; n++) if (ranges.start(n) <= at + 0.001 && ranges.end(n) > at) return true;
    return false;
  }

  #moreBuffered(): Promise<void> {
    return new Promise((resolve) => {
      const end = () => {
        this.#whenBuffered.delete(end);
        window.clearTimeout(timer);
        resolve();
      };
      const timer = window.setTimeout(end, BUFFER_WAIT_MS);
      this.#whenBuffered.add(end);
    });
  }

  #watch(): void {
    this.#watching = this.video.requestVideoFrameCallback((_, { mediaTime, presentedFrames }) => {
      this.presented = frameFromMediaTime(mediaTime, this.#rate);
      this.pictures = presentedFrames;
      for (const heard of [...this.#whenPresented]) heard(this.presented);
      this.#onPresented(this.presented);
      this.#watch();
    });
  }
}
