// Controls, and what is kept of them: the pure part of the bindings.
import { WAYS, type Way } from './midi.ts';

/**
 * A control, written as where it is and what it is: `key:Shift+ArrowLeft`, `pad:left-trigger`, `midi:1/note-36` (channel
 * and what it says), `midi:1/cc-20+` (a dial, to the right).
 * Letters and signs are those the key writes; where it writes no Latin letter, the one its place has on Latin keyboards.
 */
export type Control = `${'key' | 'pad' | 'midi'}:${string}`;

/** What a person changed, as it is kept and exported. */
export interface KeptBindings {
  version: 3;
  /** Controls by room and action; an action that is not named has its defaults. */
  rooms: Record<string, Record<string, Control[]>>;
  /** Single keys without a modifier can be turned off (WCAG 2.1.4). */
  singleKeys: boolean;
  /** Frames of the coarser step. */
  coarseStep: number;
  /** How dials say that they turned, by name without the direction. */
  dials: Record<string, Way>;
}

export const NOTHING_KEPT: KeptBindings = { version: 3, rooms: {}, singleKeys: true, coarseStep: 5, dials: {} };
export const COARSEST = 1000;
/** Version 1 knew no rooms; these were the ones with actions then. */
const ROOMS_OF_VERSION_1 = ['sweep', 'picks'];

/** What was kept or exported, brought up to this version. @returns null for anything else. */
export function readKept(value: unknown): KeptBindings | null {
  const kept = value as { version?: unknown; controls?: unknown; rooms?: unknown; singleKeys?: unknown; coarseStep?: unknown; dials?: unknown } | null;
  if (typeof kept !== 'object' || kept === null || typeof kept.singleKeys !== 'boolean') return null;
  const { version, singleKeys, coarseStep } = kept;
  if (typeof coarseStep !== 'number' || !Number.isInteger(coarseStep) || coarseStep < 2 || coarseStep > COARSEST) return null;
  // Version 1 knew no rooms, version 2 no dials.
  const rooms = version === 1 ? isControls(kept.controls) && byRoom(kept.controls) : (version === 2 || version === 3) && isRooms(kept.rooms) && kept.rooms;
  const dials = version === 3 ? isDials(kept.dials) && kept.dials : {};
  return rooms && dials ? { version: 3, rooms, singleKeys, coarseStep, dials } : null;
}

function isRooms(value: unknown): value is KeptBindings['rooms'] {
  return typeof value === 'object' && value !== null && Object.values(value).every(isControls);
}

function isDials(value: unknown): value is KeptBindings['dials'] {
  return typeof value === 'object' && value !== null && Object.entries(value).every(([dial, way]) => dial.startsWith('midi:') && (WAYS as readonly unknown[]).includes(way));
}

function isControls(value: unknown): value is Record<string, Control[]> {
  if (typeof value !== 'object' || value === null) return false;
  return Object.values(value).every((list) => Array.isArray(list) && list.every((control) => typeof control === 'string' && /^(key|pad|midi):.+/.test(control)));
}

/** A room's own actions go to it; what every room has, the player above all, goes to each. */
function byRoom(controls: Record<string, Control[]>): KeptBindings['rooms'] {
  const of = (room: string) => Object.fromEntries(Object.entries(controls).filter(([id]) => id.startsWith(`${room}.`) || !ROOMS_OF_VERSION_1.some((other) => id.startsWith(`${other}.`))));
  return Object.fromEntries(ROOMS_OF_VERSION_1.map((room) => [room, of(room)]));
}

/** The control that a key event is, or null for a modifier alone. */
export function controlOf(event: Pick<KeyboardEvent, 'key' | 'code' | 'ctrlKey' | 'altKey' | 'metaKey' | 'shiftKey'>): Control | null {
  const [, placed] = /^Key([A-Z])$/.exec(event.code) ?? [];
  const key = placed && event.key.length === 1 && event.key > '\u007f' ? placed : event.key;
  if (['Shift', 'Control', 'Alt', 'Meta', 'AltGraph', 'Dead', 'Process', 'Unidentified'].includes(key)) return null;
  const name = key === ' ' ? 'Space' : key.length === 1 ? key.toUpperCase() : key;
  // The Shift that makes "?" of "/" is part of the sign, not of the control.
  const shift = event.shiftKey && (name.length > 1 || /[A-Z]/.test(name));
  return `key:${[event.ctrlKey && 'Ctrl', event.altKey && 'Alt', event.metaKey && 'Meta', shift && 'Shift', name].filter(Boolean).join('+')}`;
}

/** Whether a control is one key that writes a letter or sign, small or capital: the kind that can be turned off. */
export function isSingleKey(control: Control): boolean {
  return /^key:(Shift\+)?(.|Space)$/u.test(control);
}

/** Where a control is: on the keyboard, a pad, or what speaks MIDI. */
export const kindOf = (control: Control): string => control.slice(0, control.indexOf(':'));
