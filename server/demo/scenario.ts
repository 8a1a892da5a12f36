// The invented film: The Last Ferry, four minutes on a tidal island whose causeway floods twice a day.
// No place, person or brand in it is real.
import type { Scene } from './scenes.ts';

/** A length in seconds, a range of them, or nothing asked. */
export type DemoLength = number | readonly [number, number] | null;
export interface DemoPart {
  name: string;
  role?: 'opening' | 'closing';
  seconds?: DemoLength;
  parts?: DemoPart[];
  slots?: DemoSlot[];
}
export interface DemoSlot {
  name: string;
  seconds: DemoLength;
  mustShow: string;
  comesIn?: string;
  goesOut?: string;
}

const slot = (name: string, seconds: DemoLength, mustShow: string, comesIn?: string, goesOut?: string): DemoSlot => ({
  name,
  seconds,
  mustShow,
  ...(comesIn ? { comesIn } : {}),
  ...(goesOut ? { goesOut } : {}),
});

export const FILM = { title: 'The Last Ferry', rate: { num: 25, den: 1 }, seconds: 240 };

export const CREW = [
  { name: 'Maren', role: 'director' },
  { name: 'Teo', role: 'editor' },
  { name: 'Ines', role: 'field' },
] as const;

/** Sequences may bend a little, and so may most of their slots, so that changes can land on the music. */
export const OUTLINE: DemoPart[] = [
  {
    name: 'Opening: low water',
    role: 'opening',
    seconds: [36, 44],
    slots: [
      slot('Mud and sky', [10, 14], 'The flats from above, nobody in sight', 'from black, sound first', 'on the first gull'),
      slot('Posts of the causeway', [6, 10], 'A line of posts leading away, tide far out'),
      slot('Boots', [4, 8], 'Somebody walking, close, water in the prints'),
      slot('The island', [10, 16], 'Where the posts lead to: the island, small', '', 'wind carries over into the crossing'),
    ],
  },
  {
    name: 'The crossing',
    seconds: [45, 55],
    slots: [
      slot('Tractor sets off', [6, 10], 'The tractor leaving the mainland'),
      slot('Wheels in water', 6, 'Close on the wheel, first water'),
      slot('Driver', [6, 10], 'Her face, watching the tide'),
      slot('Half way', [12, 20], 'From above: the road a line, water on both sides'),
      slot('Road goes under', [8, 14], 'The road behind them is gone', '', 'hold until it is quiet'),
    ],
  },
  {
    name: 'The oyster beds',
    seconds: [60, 72],
    parts: [
      {
        name: 'Raking',
        slots: [slot('Rakes in a row', [6, 10], 'Three people, one rhythm'), slot('Hands and rake', [4, 7], 'Close, cold hands'), slot('Basket fills', [4, 8], 'The basket from half to full')],
      },
      {
        name: 'Sorting',
        slots: [slot('The table', [6, 10], 'The long table under the lamp'), slot('Good, bad', null, 'Two piles, hands deciding'), slot('A joke', [6, 9], 'They laugh at something we do not hear')],
      },
      {
        name: 'The smokehouse',
        slots: [slot('Door opens', [5, 8], 'Smoke comes out, then light'), slot('On the racks', null, 'Rows of shells, glow below'), slot('First taste', [9, 15], 'The oldest of them tastes one', '', 'on the nod')],
      },
    ],
  },
  {
    name: 'Market night',
    seconds: [40, 50],
    slots: [
      slot('Lights come on', [6, 10], 'The strings of lamps, one after the other', 'on the music'),
      slot('Stall', [6, 10], 'The table again, now with customers'),
      slot('Faces', [8, 12], 'People eating, lit from below'),
      slot('Two dance', [9, 14], 'A couple, not well, happily'),
      slot('The clock', [6, 10], 'The harbour clock: a quarter to'),
    ],
  },
  {
    name: 'Closing: last ferry',
    role: 'closing',
    seconds: [32, 45],
    slots: [
      slot('Running', [4, 7], 'Feet on the pier'),
      slot('The rope', [4, 7], 'The rope comes off the bollard'),
      slot('Who stays', [7, 12], 'Somebody on the pier, getting small'),
      slot('Lights across water', [8, 14], 'The market from the water'),
      slot('Dark water', 8, 'The wake, then only water', '', 'to black, sound last'),
    ],
  },
];

/** What a camera of the shoot records: rate, and what makes its files peculiar. */
export type DemoCamera = 'A' | 'B' | 'D' | 'Phone';

export interface DemoClip {
  name: string;
  day: number;
  camera: DemoCamera;
  card: string;
  scene: Scene;
  seconds: number;
  /** Hours and minutes of the shoot day. */
  at: string;
  location: string;
  rate: { num: number; den: number };
  startTimecode?: string;
  peculiar?: 'variable-rate' | 'portrait' | 'no-sound' | 'hevc-10-bit';
}

const R = {
  r23976: { num: 24000, den: 1001 },
  r25: { num: 25, den: 1 },
  r2997: { num: 30000, den: 1001 },
  r30: { num: 30, den: 1 },
  r50: { num: 50, den: 1 },
  r5994: { num: 60000, den: 1001 },
};

const clip = (
  name: string,
  day: number,
  camera: DemoCamera,
  scene: Scene,
  at: string,
  seconds: number,
  rate: DemoClip['rate'],
  location: string,
  more: Pick<DemoClip, 'startTimecode' | 'peculiar'> = {},
): DemoClip => ({ name, day, camera, card: `${camera === 'Phone' ? 'P' : camera}00${day}`, scene, seconds, at, location, rate, ...more });

/** The shoot: four days, three cameras and a phone. */
export const CLIPS: DemoClip[] = [
  clip('A001C001.mov', 1, 'A', 'low-water', '06:10', 10, R.r25, 'The flats', { startTimecode: '10:00:00:00' }),
  clip('A001C002.mov', 1, 'A', 'low-water', '06:25', 8, R.r25, 'The flats', { startTimecode: '10:00:10:00' }),
  clip('A001C003.mov', 1, 'A', 'causeway', '06:48', 9, R.r25, 'Causeway', { startTimecode: '10:00:18:00' }),
  clip('B001C001.mov', 1, 'B', 'low-water', '06:15', 7, R.r23976, 'The flats', { startTimecode: '06:15:02:11' }),
  clip('B001C002.mov', 1, 'B', 'causeway', '06:52', 8, R.r23976, 'Causeway', { startTimecode: '06:52:40:03' }),
  clip('D001C001.mp4', 1, 'D', 'low-water', '06:30', 12, R.r2997, 'The flats', { startTimecode: '00:00:58;20', peculiar: 'no-sound' }),
  clip('D001C002.mp4', 1, 'D', 'causeway', '06:55', 10, R.r2997, 'Causeway', { startTimecode: '00:09:55;10' }),
  clip('A002C001.mov', 2, 'A', 'oyster-beds', '07:20', 9, R.r25, 'Oyster beds', { startTimecode: '10:02:00:00' }),
  clip('A002C002.mov', 2, 'A', 'oyster-beds', '07:41', 8, R.r25, 'Oyster beds', { startTimecode: '10:02:09:00' }),
  clip('A002C003.mov', 2, 'A', 'oyster-beds', '09:05', 7, R.r25, 'Sorting shed', { startTimecode: '10:02:17:00' }),
  clip('B002C001.mov', 2, 'B', 'oyster-beds', '07:30', 6, R.r50, 'Oyster beds', { startTimecode: '07:30:11:27' }),
  clip('B002C002.mov', 2, 'B', 'oyster-beds', '09:11', 8, R.r50, 'Sorting shed', { startTimecode: '09:11:30:00' }),
  clip('B002C003.mov', 2, 'B', 'oyster-beds', '10:02', 7, R.r23976, 'Smokehouse', { startTimecode: '10:02:15:20', peculiar: 'hevc-10-bit' }),
  clip('D002C001.mp4', 2, 'D', 'oyster-beds', '07:50', 8, R.r5994, 'Oyster beds', { startTimecode: '00:00:57;30' }),
  clip('P002-0714.mp4', 2, 'Phone', 'oyster-beds', '09:20', 7, R.r30, 'Sorting shed', { peculiar: 'variable-rate' }),
  clip('A003C001.mov', 3, 'A', 'market-night', '20:40', 9, R.r25, 'Market square', { startTimecode: '10:05:00:00' }),
  clip('A003C002.mov', 3, 'A', 'market-night', '21:05', 10, R.r25, 'Market square', { startTimecode: '10:05:09:00' }),
  clip('A003C003.mov', 3, 'A', 'market-night', '21:32', 8, R.r25, 'Harbour', { startTimecode: '10:05:19:00' }),
  clip('B003C001.mov', 3, 'B', 'market-night', '20:48', 7, R.r23976, 'Market square', { startTimecode: '20:48:00:00' }),
  clip('B003C002.mov', 3, 'B', 'market-night', '21:14', 9, R.r23976, 'Market square', { startTimecode: '21:14:22:10' }),
  clip('B003C003.mov', 3, 'B', 'market-night', '21:20', 6, R.r50, 'Market square', { startTimecode: '21:20:05:40' }),
  clip('P003-0831.mp4', 3, 'Phone', 'market-night', '21:10', 7, R.r2997, 'Market square', { peculiar: 'portrait' }),
  clip('A004C001.mov', 4, 'A', 'ferry', '22:50', 9, R.r25, 'Pier', { startTimecode: '10:08:00:00' }),
  clip('A004C002.mov', 4, 'A', 'ferry', '22:58', 10, R.r25, 'Pier', { startTimecode: '10:08:09:00' }),
  clip('B004C001.mov', 4, 'B', 'ferry', '22:52', 7, R.r23976, 'Pier', { startTimecode: '22:52:30:02' }),
  clip('B004C002.mov', 4, 'B', 'ferry', '23:01', 8, R.r23976, 'On the ferry', { startTimecode: '23:01:00:00' }),
  clip('D004C001.mp4', 4, 'D', 'ferry', '22:40', 10, R.r5994, 'Over the harbour', { startTimecode: '00:01:58;40' }),
  clip('P004-0902.mp4', 4, 'Phone', 'ferry', '23:05', 6, R.r30, 'On the ferry', { peculiar: 'variable-rate' }),
];

export interface DemoSelect {
  clip: string;
  /** Shares of the clip: 0 is its first frame, 1 its end. */
  from: number;
  to: number;
  circled?: boolean;
  label: string;
  offers?: { slot: string; verdict?: 'approve' | 'hold' | 'pass'; reason?: string }[];
  note?: { at: number; by: 'Maren' | 'Teo' | 'Ines'; text: string; to?: 'Maren' | 'Teo' | 'Ines'; drawing?: boolean; reply?: { by: 'Maren' | 'Teo' | 'Ines'; text: string }; settled?: boolean };
}

/** What Teo cut out, what he offered it for, and what Maren said. */
export const SELECTS: DemoSelect[] = [
  {
    clip: 'D001C001.mp4',
    from: 0.1,
    to: 0.9,
    circled: true,
    label: 'slow drift over the flats',
    offers: [{ slot: 'Mud and sky', verdict: 'approve' }],
    note: { at: 0.55, by: 'Maren', text: 'Here the light breaks through. Could the cut be on this frame?', to: 'Teo', drawing: true, reply: { by: 'Teo', text: 'Yes, there is half a second of handle left.' } },
  },
  { clip: 'A001C001.mov', from: 0.2, to: 0.8, label: 'locked off, gull crosses', offers: [{ slot: 'Mud and sky', verdict: 'hold', reason: 'Beautiful, but the drone tells where we are.' }] },
  { clip: 'A001C002.mov', from: 0.1, to: 0.9, circled: true, label: 'posts, tide far out', offers: [{ slot: 'Posts of the causeway', verdict: 'approve' }] },
  { clip: 'B001C001.mov', from: 0.25, to: 0.75, label: 'boots, close', offers: [{ slot: 'Boots' }] },
  { clip: 'B001C001.mov', from: 0.78, to: 0.98, label: 'boots again, softer', offers: [{ slot: 'Boots', verdict: 'pass', reason: 'Soft.' }] },
  { clip: 'D001C002.mp4', from: 0.1, to: 0.85, circled: true, label: 'the road, water on both sides', offers: [{ slot: 'Half way', verdict: 'approve' }, { slot: 'The island', verdict: 'hold' }] },
  {
    clip: 'A001C003.mov',
    from: 0.3,
    to: 0.9,
    label: 'road goes under',
    offers: [{ slot: 'Road goes under' }],
    note: { at: 0.5, by: 'Ines', text: 'The splash at the left edge is my boot, sorry.', settled: true },
  },
  { clip: 'B001C002.mov', from: 0.15, to: 0.7, label: 'wheel, first water', offers: [{ slot: 'Wheels in water' }] },
  { clip: 'A002C001.mov', from: 0.1, to: 0.9, circled: true, label: 'three rakes, one rhythm', offers: [{ slot: 'Rakes in a row', verdict: 'approve' }] },
  { clip: 'B002C001.mov', from: 0.2, to: 0.9, label: 'hands, cold', offers: [{ slot: 'Hands and rake' }] },
  { clip: 'A002C002.mov', from: 0.1, to: 0.8, label: 'basket', offers: [{ slot: 'Basket fills' }] },
  { clip: 'D002C001.mp4', from: 0.1, to: 0.7, label: 'beds from above', offers: [{ slot: 'Rakes in a row', verdict: 'pass', reason: 'Too far away to feel the work.' }] },
  { clip: 'A002C003.mov', from: 0.1, to: 0.9, label: 'the long table', offers: [{ slot: 'The table' }] },
  { clip: 'P002-0714.mp4', from: 0.2, to: 0.9, circled: true, label: 'they laugh', offers: [{ slot: 'A joke' }], note: { at: 0.4, by: 'Teo', text: '@Maren is the phone picture good enough here?', to: 'Maren' } },
  { clip: 'B002C003.mov', from: 0.15, to: 0.85, label: 'door, smoke', offers: [{ slot: 'Door opens' }] },
  { clip: 'A003C001.mov', from: 0.1, to: 0.95, circled: true, label: 'lamps, one after the other', offers: [{ slot: 'Lights come on', verdict: 'approve' }] },
  { clip: 'B003C002.mov', from: 0.1, to: 0.9, label: 'two dance', offers: [{ slot: 'Two dance' }] },
  { clip: 'P003-0831.mp4', from: 0.1, to: 0.8, label: 'two dance, from the phone', offers: [{ slot: 'Two dance', verdict: 'hold', reason: 'Upright: only if nothing else holds.' }] },
  { clip: 'A003C003.mov', from: 0.2, to: 0.9, label: 'a quarter to' },
  { clip: 'B003C001.mov', from: 0.1, to: 0.6, label: 'stall, customers' },
  { clip: 'A004C002.mov', from: 0.05, to: 0.95, circled: true, label: 'who stays', offers: [{ slot: 'Who stays' }] },
  { clip: 'D004C001.mp4', from: 0.1, to: 0.9, circled: true, label: 'lights across water', offers: [{ slot: 'Lights across water', verdict: 'approve' }] },
  { clip: 'B004C002.mov', from: 0.2, to: 0.9, label: 'wake', offers: [{ slot: 'Dark water' }] },
];

/** Clips of which the crew has not seen everything yet: the rest is swept. */
export const UNSEEN = ['B003C003.mov', 'P004-0902.mp4', 'A004C001.mov', 'B002C002.mov'];

interface SongSection {
  bars: number;
  /** Levels of what plays; left out, it is silent. */
  pad?: number;
  pluck?: number;
  bass?: number;
  drum?: number;
  hat?: number;
  /** From nothing to the full levels. */
  rising?: boolean;
}

/** The music: 96 bars of four beats, four minutes. A bar lasts 2.5 s. */
export const SONG: { title: string; maker: string; licence: string; bpm: number; sections: SongSection[] } = {
  title: 'Tide clock (invented)',
  maker: 'nobody: made by this program',
  licence: 'Synthesized for the invented film; free to use with this program.',
  bpm: 96,
  sections: [
    { bars: 16, pad: 0.16, pluck: 0.06 },
    { bars: 20, pad: 0.1, bass: 0.25, drum: 0.6, pluck: 0.08 },
    { bars: 22, pad: 0.1, bass: 0.25, drum: 0.6, hat: 0.12, pluck: 0.12 },
    { bars: 4, pad: 0.14, bass: 0.25, drum: 0.6, hat: 0.25, rising: true },
    { bars: 1 },
    { bars: 18, pad: 0.12, bass: 0.35, drum: 0.8, hat: 0.25, pluck: 0.16 },
    { bars: 15, pad: 0.16, pluck: 0.06 },
  ],
};

/** What Teo marked in it by ear, and which lines begin there. */
export const SONG_MARKS: { kind: 'hit' | 'build' | 'turn' | 'named'; atMs: number; untilMs?: number; name: string; line?: string }[] = [
  { kind: 'turn', atMs: 40_000, name: 'drum comes in', line: 'The crossing' },
  { kind: 'turn', atMs: 90_000, name: 'brighter', line: 'The oyster beds' },
  { kind: 'build', atMs: 145_000, untilMs: 155_000, name: 'rising' },
  { kind: 'named', atMs: 155_000, name: 'breath held' },
  { kind: 'hit', atMs: 157_500, name: 'all at once', line: 'Market night' },
  { kind: 'turn', atMs: 202_500, name: 'drum is gone', line: 'Closing: last ferry' },
];
