import { SvelteMap } from 'svelte/reactivity';
import type { Track } from '#contract/music';
import { equalGains, factorOf } from '#core/equal-loudness.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { sayFault } from '../ui/say.svelte.ts';
import { trackMedia } from './wave-data.svelte.ts';

interface Voice {
  version: string | null;
  element: HTMLAudioElement;
  gain: GainNode;
}

/*
 * What is heard in the Music room: one track at a time, at its own loudness or at one that is equal for all.
 * States: silent (no track) -> paused <-> playing. Every track has an element of its own, made when it is first heard,
 * so that changing over at one moment does not begin with a wait. The audio context is made at the first play, because
 * browsers let none begin before a person did something.
 */
export class Listening {
  trackId: string | null = $state(null);
  playing = $state(false);
  /** Where the track in hand stands. */
  positionMs = $state(0);
  equal = $state(true);
  readonly #film: FilmState;
  readonly #voices = new SvelteMap<string, Voice>();
  readonly #gains = $derived.by(() => equalGains(this.#film.candidates.filter(({ state }) => state === 'ready')));
  #context: AudioContext | null = null;
  #ticking = 0;

  constructor(film: FilmState) {
    this.#film = film;
  }

  /** The audio context; to be asked for in answer to what a person does. */
  context(): AudioContext {
    return (this.#context ??= new AudioContext({ latencyHint: 'interactive' }));
  }

  /** From the player to the ear, in milliseconds (Web Audio API, 1.2.2); nothing where the browser does not say. */
  get outputMs(): number {
    const { baseLatency = 0, outputLatency = 0 } = this.#context ?? {};
    return 1000 * (baseLatency + (outputLatency || 0));
  }

  /** Decibels a track is changed by when it is heard now. */
  gainOf(track: Track): number {
    return this.equal ? ([...this.#gains].find(([one]) => one.id === track.id)?.[1] ?? 0) : 0;
  }

  /** The exact position now, in milliseconds: `positionMs` is as of the last picture. */
  now(): number {
    const voice = this.trackId === null ? undefined : this.#voices.get(this.trackId);
    return voice ? voice.element.currentTime * 1000 : this.positionMs;
  }

  /** Takes a track in hand without playing it. */
  take(track: Track): void {
    if (this.trackId === track.id) return;
    this.pause();
    this.trackId = track.id;
    this.positionMs = this.#voices.get(track.id)?.element.currentTime ?? 0;
    this.positionMs *= 1000;
  }

  /** Plays a track, from a moment or from where it stands. */
  async play(track: Track, fromMs?: number): Promise<void> {
    if (track.state !== 'ready') return;
    if (this.trackId !== null && this.trackId !== track.id) this.#voices.get(this.trackId)?.element.pause();
    this.trackId = track.id;
    const { element } = this.#voiceOf(track);
    this.level();
    if (fromMs !== undefined) element.currentTime = fromMs / 1000;
    if (element.ended) element.currentTime = 0;
    try {
      await this.context().resume();
      await element.play();
    } catch (error) {
      // Paused again before it began.
      if (!(error instanceof DOMException && error.name === 'AbortError')) sayFault(error);
    }
  }

  /** Hears another track at the same moment, to compare; one that is shorter begins anew. */
  changeOver(track: Track): Promise<void> {
    const at = this.now();
    return this.play(track, at < (track.lengthMs ?? 0) ? at : 0);
  }

  toggle(track: Track): void {
    if (this.playing && this.trackId === track.id) this.pause();
    else void this.play(track);
  }

  pause(): void {
    if (this.trackId !== null) this.#voices.get(this.trackId)?.element.pause();
  }

  /** Goes to a moment of the track in hand, playing or not. */
  seek(track: Track, atMs: number): void {
    const at = Math.max(0, Math.min((track.lengthMs ?? 1) - 1, atMs));
    this.trackId = track.id;
    this.#voiceOf(track).element.currentTime = at / 1000;
    this.positionMs = at;
  }

  /** Sets every voice to its loudness; to be called when `equal` or the tracks changed. */
  level(): void {
    for (const [id, { gain }] of this.#voices) {
      const track = this.#film.tracks.get(id);
      if (track) gain.gain.value = factorOf(this.gainOf(track));
    }
  }

  close(): void {
    cancelAnimationFrame(this.#ticking);
    for (const { element } of this.#voices.values()) {
      element.pause();
      element.removeAttribute('src');
      element.load();
    }
    this.#voices.clear();
    void this.#context?.close();
  }

  #voiceOf(track: Track): Voice {
    const known = this.#voices.get(track.id);
    if (known?.version === track.version) return known;
    known?.element.pause();
    const element = new Audio(trackMedia(this.#film.id, track, 'play.m4a'));
    element.preload = 'auto';
    const context = this.context();
    const gain = context.createGain();
    context.createMediaElementSource(element).connect(gain).connect(context.destination);
    const mine = () => this.trackId === track.id;
    element.onplaying = () => mine() && this.#start();
    element.onpause = element.onended = () => mine() && this.#stop();
    element.onseeked = () => mine() && (this.positionMs = element.currentTime * 1000);
    element.onerror = () => mine() && element.src && sayFault(new Error(`“${track.title}” cannot be played: ${element.error?.message || 'the server gave nothing to play'}.`));
    const voice = { version: track.version, element, gain };
    this.#voices.set(track.id, voice);
    return voice;
  }

  #start(): void {
    this.playing = true;
    cancelAnimationFrame(this.#ticking);
    const tick = () => {
      this.positionMs = this.now();
      this.#ticking = requestAnimationFrame(tick);
    };
    tick();
  }

  #stop(): void {
    this.playing = false;
    cancelAnimationFrame(this.#ticking);
    this.positionMs = this.now();
  }
}
