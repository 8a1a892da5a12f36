// What dials, buttons and pads say. Messages of MIDI as in the MIDI 1.0 Detailed Specification, tables I to III (from
// memory: 9n note on, 8n note off, Bn control change; a note on of velocity 0 is a note off); the layout of a pad as in
// the W3C Gamepad specification (https://www.w3.org/TR/gamepad/#remapping). How dials count is common practice, no source.
import { describe, expect, it } from 'vitest';
import { wordsOf } from '../../web/src/actions/control-words.ts';
import type { Control } from '../../web/src/actions/controls.ts';
import { noteOf, notches, strokeOf, turnOf, wayOf, type Way } from '../../web/src/actions/midi.ts';
import { heldOn, PAD_BUTTONS } from '../../web/src/actions/pad.ts';
import { randomFrom } from '../fixtures/random.ts';

describe('a message of MIDI', () => {
  it.each([
    ['note on', [0x90, 36, 100], 'midi:1/note-36'],
    ['note on of the last channel', [0x9f, 0, 1], 'midi:16/note-0'],
    ['note on of velocity 0, which ends a note', [0x90, 36, 0], null],
    ['note off', [0x80, 36, 64], null],
    ['control change', [0xb0, 20, 1], null],
    ['pitch bend', [0xe0, 0, 64], null],
    ['clock', [0xf8], null],
    ['nothing', [], null],
  ])('that is %s', (_, message, control) => expect(noteOf(message)?.control ?? null).toBe(control));

  it('of a control change names the dial and says its value', () => {
    expect(turnOf([0xb2, 20, 127])).toEqual({ dial: 'midi:3/cc-20', value: 127 });
    expect(turnOf([0x90, 20, 127])).toBeNull();
  });
});

/** What a dial of each kind says when it is turned by so many notches at a time. */
const SAYS: Record<Exclude<Way, 'press' | 'absolute'>, (turned: number) => number> = {
  'from-zero': (turned) => (turned + 128) % 128,
  'from-middle': (turned) => 64 + turned,
  'sign-bit': (turned) => (turned > 0 ? turned : 64 - turned),
};

/** The first way that is said to be certain, as the values come in. */
const firstSaid = (values: number[]): Way | null => values.map((_, n) => wayOf(values.slice(0, n + 1))).find((way) => way !== null) ?? null;

describe('a dial', () => {
  it.each(Object.entries(SAYS) as [keyof typeof SAYS, (turned: number) => number][])('that counts %s is turned as far as it says', (way, says) => {
    for (const turned of [1, 2, 5, -1, -2, -5]) expect(notches(way, says(turned), undefined)).toBe(turned);
  });

  it('that says where it stands is turned from where it stood, and by nothing before that is known', () => {
    expect([notches('absolute', 40, undefined), notches('absolute', 43, 40), notches('absolute', 38, 43)]).toEqual([0, 3, -5]);
  });

  it('makes one stroke a notch, each way a control of its own; a press has one way', () => {
    expect(strokeOf('midi:1/cc-20', 'from-zero', 3)).toEqual({ control: 'midi:1/cc-20+', times: 3 });
    expect(strokeOf('midi:1/cc-20', 'from-zero', -2)).toEqual({ control: 'midi:1/cc-20-', times: 2 });
    expect(strokeOf('midi:1/cc-20', 'press', 1)).toEqual({ control: 'midi:1/cc-20', times: 1 });
    expect(strokeOf('midi:1/cc-20', 'absolute', 0)).toBeNull();
  });

  it('is told by what it says when it is turned one way and back, slowly or fast, whichever way first', () => {
    const random = randomFrom(7);
    for (let run = 0; run < 200; run++) {
      const first = random() < 0.5 ? 1 : -1;
      const turns = Array.from({ length: 12 }, (_, n) => (n < 6 ? first : -first) * (1 + Math.floor(random() * random() * 6)));
      for (const [way, says] of Object.entries(SAYS)) {
        const heard = turns.map(says);
        expect([way, heard, firstSaid(heard)]).toEqual([way, heard, way]);
      }
      // Anywhere but at the middle, where the places look like what counts from there.
      let place = random() < 0.5 ? 35 : 90;
      const places = turns.map((turned) => (place = Math.max(0, Math.min(127, place + turned))));
      expect([places, firstSaid(places)]).toEqual([places, 'absolute']);
    }
  });

  it('is a button when it goes down and comes up', () => {
    expect(wayOf([127, 0])).toBe('press');
    expect(wayOf([100, 0, 100, 0])).toBe('press');
  });

  it.each([[[]], [[127]], [[1, 1, 1]], [[1, 1, 1, 1, 1, 1, 1]], [[65, 65, 65, 65, 65, 65]], [[0, 0]]])('is not guessed at from %j', (values) => expect(wayOf(values)).toBeNull());
});

describe('a pad', () => {
  const buttons = (...pressed: number[]) => Array.from({ length: 17 }, (_, n) => ({ pressed: pressed.includes(n) }));

  it('of the standard layout has seventeen buttons by name', () => {
    expect(PAD_BUTTONS).toHaveLength(17);
    expect(heldOn({ mapping: 'standard', buttons: buttons(0, 4, 7, 12, 16), axes: [0, 0, 0, 0] })).toEqual(['pad:face-bottom', 'pad:left-shoulder', 'pad:right-trigger', 'pad:up', 'pad:middle']);
  });

  it('has sticks that are moved from half their way on', () => {
    expect(heldOn({ mapping: 'standard', buttons: [], axes: [-0.9, 0.1, 0, 1] })).toEqual(['pad:left-stick-sideways-', 'pad:right-stick-upright+']);
  });

  it('of another layout has numbers', () => {
    expect(heldOn({ mapping: '', buttons: buttons(2), axes: [0, 0, 0, 0, 0, -1] })).toEqual(['pad:button-3', 'pad:axis-6-']);
  });
});

it.each([
  ['key:Shift+ArrowLeft', 'Shift + Arrow Left'],
  ['key:+', '+'],
  ['key:J', 'J'],
  ['pad:face-bottom', 'pad face bottom'],
  ['pad:left-stick-sideways-', 'pad left stick left'],
  ['pad:right-stick-upright+', 'pad right stick down'],
  ['pad:axis-6-', 'pad axis 6 back'],
  ['midi:1/note-36', 'note 36'],
  ['midi:1/cc-20', 'button 20'],
  ['midi:1/cc-20+', 'dial 20, right'],
  ['midi:4/cc-20-', 'dial 20 of channel 4, left'],
] as [Control, string][])('%s is said as “%s”', (control, words) => expect(wordsOf(control)).toBe(words));
