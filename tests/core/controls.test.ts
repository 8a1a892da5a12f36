// What a key is called, and what is kept of a person's bindings. The key values are those of the standard
// (UI Events KeyboardEvent key Values, https://www.w3.org/TR/uievents-key/); U+00D0 and friends are Unicode's.
import { describe, expect, it } from 'vitest';
import { controlOf, isSingleKey, NOTHING_KEPT, readKept } from '../../web/src/actions/controls.ts';

const press = (key: string, code: string, held: { ctrl?: boolean; alt?: boolean; meta?: boolean; shift?: boolean } = {}) =>
  controlOf({ key, code, ctrlKey: held.ctrl ?? false, altKey: held.alt ?? false, metaKey: held.meta ?? false, shiftKey: held.shift ?? false });

describe('a control', () => {
  it.each([
    ['j', 'KeyJ', {}, 'key:J'],
    ['J', 'KeyJ', { shift: true }, 'key:Shift+J'],
    [' ', 'Space', {}, 'key:Space'],
    ['ArrowLeft', 'ArrowLeft', { shift: true }, 'key:Shift+ArrowLeft'],
    ['a', 'KeyA', { ctrl: true }, 'key:Ctrl+A'],
    // The sign, whichever key and Shift make it on this keyboard.
    ['?', 'Slash', { shift: true }, 'key:?'],
    ['+', 'Equal', { shift: true }, 'key:+'],
    // A keyboard that writes no Latin letters: the key's place.
    ['о', 'KeyJ', {}, 'key:J'],
    // One that writes Latin letters in other places: the letter.
    ['z', 'KeyY', {}, 'key:Z'],
  ] as const)('%s on %s is named', (key, code, held, named) => expect(press(key, code, held)).toBe(named));

  it.each(['Shift', 'Control', 'Alt', 'Meta', 'AltGraph', 'Dead'])('%s alone is none', (key) => expect(press(key, key)).toBeNull());

  it('is a single key when it writes one letter or sign and nothing is held that makes it a command', () => {
    expect(['key:J', 'key:Shift+J', 'key:?', 'key:Space'].map((control) => isSingleKey(control as 'key:J'))).toEqual([true, true, true, true]);
    expect(['key:Ctrl+A', 'key:ArrowLeft', 'key:Escape', 'pad:0'].map((control) => isSingleKey(control as 'key:J'))).toEqual([false, false, false, false]);
  });
});

describe('kept bindings', () => {
  const rooms = { sweep: { 'player.play': ['key:P'] }, footage: {} };

  it('are read as they were kept', () => {
    const dials = { 'midi:1/cc-20': 'from-zero' };
    expect(readKept({ ...NOTHING_KEPT, rooms, dials })).toEqual({ version: 3, rooms, singleKeys: true, coarseStep: 5, dials });
  });

  it('of version 2, which knew no dials, keep their rooms', () => {
    expect(readKept({ version: 2, rooms, singleKeys: true, coarseStep: 5 })).toEqual({ ...NOTHING_KEPT, rooms });
  });

  it('of version 1, which knew no rooms, go to the rooms there were', () => {
    const controls = { 'player.play': ['key:P'], 'sweep.drop': ['key:X'], 'picks.approve': [], 'hands.show': ['key:H'] };
    expect(readKept({ version: 1, controls, singleKeys: false, coarseStep: 12 })).toEqual({
      version: 3,
      rooms: {
        sweep: { 'player.play': ['key:P'], 'sweep.drop': ['key:X'], 'hands.show': ['key:H'] },
        picks: { 'player.play': ['key:P'], 'picks.approve': [], 'hands.show': ['key:H'] },
      },
      singleKeys: false,
      coarseStep: 12,
      dials: {},
    });
  });

  it.each([
    null,
    {},
    'text',
    { ...NOTHING_KEPT, version: 4 },
    { ...NOTHING_KEPT, dials: { 'midi:1/cc-20': 'sideways' } },
    { ...NOTHING_KEPT, coarseStep: 1 },
    { ...NOTHING_KEPT, coarseStep: 2.5 },
    { ...NOTHING_KEPT, singleKeys: 'yes' },
    { ...NOTHING_KEPT, rooms: null },
    { ...NOTHING_KEPT, rooms: { sweep: { 'player.play': 'key:P' } } },
    { ...NOTHING_KEPT, rooms: { sweep: { 'player.play': ['mouse:1'] } } },
    { version: 1, controls: { 'player.play': [7] }, singleKeys: true, coarseStep: 5 },
  ])('are nothing else: %j', (value) => expect(readKept(value)).toBeNull());
});
