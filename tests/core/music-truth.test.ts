// What the beats are scored against is read from MIDI files by a reader of our own.
import { expect, it } from 'vitest';
import { beatsOf, readMidi } from '../fixtures/music/midi.ts';

const bytes = (hex: string): Buffer => Buffer.from(hex.replaceAll(' ', ''), 'hex');
const file = (track: Buffer): Buffer => {
  const head = bytes('4D546864 00000006 0000 0001 0060 4D54726B 00000000');
  head.writeUInt32BE(track.length, 18);
  return Buffer.concat([head, track]);
};
// Standard MIDI Files 1.0 (MIDI Manufacturers Association), the example at its end in format 0: 4/4, a quarter of 500,000 µs,
// three channels, running status. From memory.
const METER = '00 FF 58 04 04 02 18 08';
const TEMPO = '00 FF 51 03 07 A1 20';
const NOTES = '00 C0 05 00 C1 2E 00 C2 46 00 92 30 60 00 3C 60 60 91 43 40 60 90 4C 20 81 40 82 30 40 00 3C 40 00 81 43 40 00 80 4C 40 00 FF 2F 00';

it('the example of the standard has its four notes where it says, and its beats at 120 a minute', () => {
  const midi = readMidi(file(bytes(METER + TEMPO + NOTES)));
  expect(midi.notes.map(({ tick, channel, pitch }) => [tick, channel, pitch])).toEqual([[0, 2, 48], [0, 2, 60], [96, 1, 67], [192, 0, 76]]);
  expect(beatsOf(midi)).toEqual([{ seconds: 0, inBar: 1 }, { seconds: 0.5, inBar: 2 }]);
});

it('a message to the instrument alone, of whatever length, changes nothing of it', () => {
  // Universal non-real-time system exclusive "General MIDI system on", and one whose length takes two bytes.
  const on = '00 F0 05 7E 7F 09 01 F7';
  const long = `00 F0 81 00 ${'11'.repeat(127)} F7`;
  const plain = readMidi(file(bytes(METER + TEMPO + NOTES)));
  const told = readMidi(file(bytes(METER + on + long + TEMPO + NOTES)));
  expect([told.tempos, told.meters, told.notes]).toEqual([plain.tempos, plain.meters, plain.notes]);
});

it('what is no MIDI file, and one that counts in SMPTE time, are refused', () => {
  expect(() => readMidi(Buffer.from('RIFF0000'))).toThrow('Not a MIDI file');
  const smpte = file(bytes(NOTES));
  smpte.writeUInt16BE(0xe728, 12);
  expect(() => readMidi(smpte)).toThrow('SMPTE');
});
