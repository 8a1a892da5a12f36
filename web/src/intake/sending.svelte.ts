import { DetailedError, Upload as TusUpload } from 'tus-js-client';
import type { FilmState } from '../live/film-state.svelte.ts';
import { CLIENT } from '../api/client.ts';
import type { Dropped } from './dropped.ts';
import { hashOf } from './hashing.ts';

/** Waits between tries while the link is down: from soon to every half a minute, for as long as it takes. */
const RETRY_MS = [0, 1000, 3000, 5000, 10_000, 20_000, ...Array.from({ length: 2000 }, () => 30_000)];
/** Small enough for proxies in between that cut long bodies. */
const CHUNK_BYTES = 16 * 1024 * 1024;

export type SendingState = 'waiting' | 'hashing' | 'sending' | 'cut' | 'paused' | 'arrived' | 'refused' | 'broken';

/*
 * One file on its way. States: waiting -> hashing -> sending -> arrived | refused. `pause` takes it from waiting, sending
 * or cut to paused; a lost link from sending to cut, which goes on by itself; a fault that trying again by itself will not
 * mend to broken. Paused, broken and refused go on by `queue` and `start`. What was sent stays on the server, also over a
 * reload: the page remembers the address of an unfinished upload by the file's name, size and date, and where it does not,
 * the film's own list of unfinished uploads knows it.
 */
export class Sending {
  state: SendingState = $state('waiting');
  sent = $state(0);
  /** Bytes read for the checksum. */
  summed = $state(0);
  /** Why it was refused or broke off, in words. */
  words = $state('');
  /** Made of the file as it lies at the source. */
  xxh64: string | null = $state(null);
  readonly file: File;
  readonly relativePath: string;
  readonly camera: string;
  readonly card: string;
  readonly #film: FilmState;
  #upload: TusUpload | null = null;
  #settled: () => void = () => {};
  /** Counts starts and pauses: who waited through one of them has no say any more. */
  #turn = 0;

  constructor(film: FilmState, { file, relativePath }: Dropped, labels: { camera: string; card: string }) {
    this.#film = film;
    this.file = file;
    this.relativePath = relativePath;
    this.camera = labels.camera;
    this.card = labels.card;
  }

  /** Puts one that stopped back in line. */
  queue(): void {
    if (this.state !== 'paused' && this.state !== 'broken' && this.state !== 'refused') return;
    if (this.state === 'refused') this.#upload = null;
    this.state = 'waiting';
    this.words = '';
  }

  /** Sends one that waits. Resolves when it has arrived, was refused, broke off or was paused. */
  async start(): Promise<void> {
    if (this.state !== 'waiting') return;
    const turn = ++this.#turn;
    if (this.xxh64 === null) {
      this.state = 'hashing';
      try {
        this.xxh64 = await hashOf(this.file, (read) => (this.summed = read));
      } catch (error) {
        if (turn === this.#turn) this.#end('broken', `It cannot be read from the card: ${(error as Error).message}`);
        return;
      }
      // Paused meanwhile; the checksum is kept.
      if (turn !== this.#turn) return;
    }
    if (await this.#isHere(this.xxh64)) return turn === this.#turn ? this.#end('arrived', '') : undefined;
    if (turn !== this.#turn) return;
    this.state = 'sending';
    const settled = new Promise<void>((done) => (this.#settled = done));
    const upload = (this.#upload ??= this.#make());
    if (upload.url === null) {
      const [kept] = await upload.findPreviousUploads();
      const known = kept ?? this.#unfinished();
      if (known) upload.resumeFromPreviousUpload(known);
    }
    if (turn === this.#turn) upload.start();
    return settled;
  }

  pause(): void {
    if (!['waiting', 'hashing', 'sending', 'cut'].includes(this.state)) return;
    this.#turn += 1;
    void this.#upload?.abort();
    this.state = 'paused';
    this.#settled();
  }

  /** The link is back: does not wait for the next try. */
  linkIsBack(): void {
    if (this.state !== 'cut') return;
    const turn = this.#turn;
    void this.#upload?.abort().then(() => turn === this.#turn && this.#upload?.start());
  }

  is(state: SendingState): boolean {
    return this.state === state;
  }

  /** The film has a clip of exactly these bytes, or the card this very file, so there is nothing to send: its checksum is the one made here. */
  async #isHere(xxh64: string): Promise<boolean> {
    const query = new URLSearchParams({ bytes: String(this.file.size), xxh64, card: this.card, relativePath: this.relativePath });
    // Without an answer it is sent; the server takes no file twice.
    return this.#film.api.get<{ here: boolean }>(`/uploads/here?${query.toString()}`).then(({ here }) => here, () => false);
  }

  #unfinished() {
    const uploads = [...this.#film.uploads.values()];
    const one = uploads.find((row) => row.state === 'arriving' && row.userId === this.#film.mine.userId && row.relativePath === this.relativePath && row.bytes === this.file.size && row.card === this.card);
    return one && { size: one.bytes, metadata: {}, creationTime: one.startedAt, urlStorageKey: '', uploadUrl: `/api/films/${this.#film.id}/uploads/${one.id}`, parallelUploadUrls: null };
  }

  #make(): TusUpload {
    return new TusUpload(this.file, {
      endpoint: `/api/films/${this.#film.id}/uploads`,
      chunkSize: CHUNK_BYTES,
      retryDelays: RETRY_MS,
      removeFingerprintOnSuccess: true,
      metadata: { filename: this.file.name, relativePath: this.relativePath, camera: this.camera, card: this.card, xxh64: this.xxh64 ?? '' },
      headers: { 'X-Rushlight-Client': CLIENT },
      onProgress: (sent) => {
        this.sent = sent;
        if (this.state === 'cut') this.state = 'sending';
      },
      // An empty file is complete when its upload is made; what the film says of it stands in the answer.
      onSuccess: ({ lastResponse }) => {
        const refusal = this.file.size === 0 ? lastResponse.getBody() : '';
        if (refusal) this.#end('refused', detailOf(refusal));
        else this.#end('arrived', '');
      },
      onShouldRetry: (error) => {
        const status = (error as DetailedError).originalResponse?.getStatus() ?? 0;
        // The server's own word on the file, and a session that ended, will be the same next time.
        const passing = status === 0 || status === 423 || status === 429 || status === 460 || (status >= 500 && status !== 507) || codeOf(error as DetailedError) === 'wrong-offset';
        if (passing && this.state === 'sending') this.state = 'cut';
        return passing;
      },
      onError: (error) => {
        const answer = (error as DetailedError).originalResponse;
        const status = answer?.getStatus() ?? 0;
        if (!answer) this.#end('broken', error.message);
        else if (status === 401 || status === 403 || status === 404 || status >= 500) this.#end(status === 507 ? 'refused' : 'broken', detailOf(answer.getBody()));
        else this.#end('refused', detailOf(answer.getBody()));
      },
    });
  }

  #end(state: 'arrived' | 'refused' | 'broken', words: string): void {
    this.state = state;
    this.words = words;
    if (state === 'arrived') this.sent = this.file.size;
    this.#settled();
  }
}

function codeOf(error: DetailedError): string | null {
  return fieldOf(error.originalResponse?.getBody() ?? '', 'code');
}

function detailOf(body: string): string {
  return fieldOf(body, 'detail') ?? (body || 'The server refused it without saying why.');
}

function fieldOf(body: string, field: 'code' | 'detail'): string | null {
  try {
    return ((JSON.parse(body) as Record<string, unknown>)[field] as string | undefined) ?? null;
  } catch {
    return null;
  }
}
