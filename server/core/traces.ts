/*
 * What was measured of a clip's picture and sound while its proxy was made: one number a step, for each trace.
 * A step is a short stretch of whole frames, about a sixth of a second; the last one of a clip may be shorter.
 */

/** Raised with whatever changes the meaning of a number; a page shows nothing of a version it does not know. */
export const TRACES_VERSION = 1;

/** Where nothing can be told: no edge in the picture, no texture to see movement by. */
export const UNKNOWN = -1;

export interface PictureTraces {
  /**
   * Width of the sharpest tenth of the edges, in tenths of a pixel of the picture with its shorter side brought down to 540:
   * 10 to 20 where anything is in focus, above 30 where nothing is; UNKNOWN where there are too few edges.
   */
  edge: number[];
  /** How far the picture is thrown about a steady path, root mean square over half a second, in tenths of a thousandth of its longer side. */
  shake: number[];
  /** Share of the picture that is at full white, per cent: 0 to 100. */
  blown: number[];
  /** How bright the brightest fiftieth of the picture is, per cent of white: 0 to 100. */
  brightest: number[];
  /** Share of the picture within a tenth of black, per cent, in the brightest frame of the step: 0 to 100. */
  black: number[];
  /** Share of the frames of the step that repeat the frame before, per cent: 0 to 100. */
  repeated: number[];
  /** The most opposing changes of luminance that any part of the picture made within a second that holds the step. */
  flash: number[];
}

export interface SoundTraces {
  /** Momentary loudness (ITU-R BS.1770-4, 400 ms about the middle of the step), whole LUFS, -99 for silence. */
  loudness: number[];
  /** Highest sample of any channel, whole dB under full scale: -99 to 0. */
  peak: number[];
  /** Times that three samples or more in a row of one channel stood at full scale. */
  clipped: number[];
  /** Share of the sound's power below 150 Hz, per cent, over about half a second: 0 to 100. */
  rumble: number[];
}

export interface Traces {
  version: number;
  /** Frames of the clip in a step. */
  framesPerStep: number;
  /** Frames measured: those of the proxy. */
  frames: number;
  picture: PictureTraces;
  /** Frames that begin a new picture inside the clip. */
  cuts: number[];
  /** Null for a clip without sound. */
  sound: SoundTraces | null;
}

const STEPS_A_SECOND = 6;

/** Frames in a step of a clip of so many frames a second, counted whole: 4 at 24 and 25, 5 at 30, 10 at 60. */
export const framesPerStep = (labelsASecond: number): number => Math.max(1, Math.round(labelsASecond / STEPS_A_SECOND));
