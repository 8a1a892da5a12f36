/** Puts grey pictures of one size together from a stream of bytes. */
export class PictureReader {
  readonly #picture: Uint8Array;
  readonly #onPicture: (picture: Uint8Array) => void;
  #filled = 0;

  /** @param onPicture hears each picture, rows from the top, one byte a pixel; its bytes are overwritten by the next. */
  constructor(pixels: number, onPicture: (picture: Uint8Array) => void) {
    this.#picture = new Uint8Array(pixels);
    this.#onPicture = onPicture;
  }

  take(chunk: Uint8Array): void {
    for (let at = 0; at < chunk.length; ) {
      const some = Math.min(chunk.length - at, this.#picture.length - this.#filled);
      this.#picture.set(chunk.subarray(at, at + some), this.#filled);
      at += some;
      this.#filled += some;
      if (this.#filled < this.#picture.length) continue;
      this.#filled = 0;
      this.#onPicture(this.#picture);
    }
  }
}
