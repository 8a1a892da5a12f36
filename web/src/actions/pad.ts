// What is pressed on a pad: the pure part. Names and numbers of the standard layout are those of the W3C Gamepad
// specification (https://www.w3.org/TR/gamepad/#remapping); a pad with another layout has numbers only.
import type { Control } from './controls.ts';

/** By the number of the button in the standard layout. */
export const PAD_BUTTONS = [
  ...['face-bottom', 'face-right', 'face-left', 'face-top'],
  ...['left-shoulder', 'right-shoulder', 'left-trigger', 'right-trigger'],
  ...['middle-left', 'middle-right', 'left-stick', 'right-stick'],
  ...['up', 'down', 'left', 'right', 'middle'],
] as const;
const PAD_AXES = ['left-stick-sideways', 'left-stick-upright', 'right-stick-sideways', 'right-stick-upright'] as const;
/** A stick counts as moved from here on: the specification leaves it to the page to ignore a stick at rest that is not quite 0. */
const MOVED = 0.5;

/** The part of a Gamepad that is looked at. */
export interface PadState {
  mapping: string;
  buttons: readonly { pressed: boolean }[];
  axes: readonly number[];
}

/** Every control of a pad that is held just now. */
export function heldOn({ mapping, buttons, axes }: PadState): Control[] {
  const standard = mapping === 'standard';
  const pressed = buttons.flatMap(({ pressed }, n): Control[] => (pressed ? [`pad:${(standard && PAD_BUTTONS[n]) || `button-${n + 1}`}`] : []));
  const moved = axes.flatMap((value, n): Control[] => (Math.abs(value) > MOVED ? [`pad:${(standard && PAD_AXES[n]) || `axis-${n + 1}`}${value > 0 ? '+' : '-'}`] : []));
  return [...pressed, ...moved];
}
