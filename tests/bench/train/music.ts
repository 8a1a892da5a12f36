// Learns server/music/analysis/model.json anew: `node tests/bench/train/music.ts`. What is rendered is kept where the bench of
// beats keeps it. The result is the same on every run.
import { writeFile } from 'node:fs/promises';
import type { Model } from '../../../server/music/analysis/model.ts';
import { pulseOf } from '../../../server/music/analysis/pulse.ts';
import { hearAll, hearSynthesized, PIECES, renderAll } from '../../fixtures/music/corpus.ts';
import { GROOVES } from '../../fixtures/music/grooves.ts';
import { evidenceFor, learnPulse } from '../../fixtures/music/learn-pulse.ts';
import { musicFolder } from '../../fixtures/music/render.ts';
import { DRILL_IDS, PULSELESS_DRILL_IDS } from '../../fixtures/music/synth.ts';
import { learnBeats } from '../../fixtures/music/train.ts';
import { warped } from '../../fixtures/music/warp.ts';

const MODEL = new URL('../../../server/music/analysis/model.json', import.meta.url);
/** The rule for the pulse is learned from every so-manieth piece. */
const PULSE_EVERY = 3;

const about = [
  'Learned by tests/bench/train/music.ts from music whose beats are written down, all played with the sound font FluidR3 GM (fluid-soundfont-gm, MIT) or by the studio program the piece was made with.',
  `The ${PIECES.length} development pieces of tests/fixtures/music/pieces.json, from Debian 12 packages: openttd-openmsx (GPL-2), simutrans-data (Artistic-1.0), freedoom (BSD-3-Clause), pianobooster (music CC-BY), lmms-common (songs under CC-BY-SA 3.0 and 4.0, Artistic-2, GPL-2+), hydrogen-data (GPL-2+).`,
  `${GROOVES.length} accompaniments that the Debian package mma (GPL-2+) plays.`,
  `${DRILL_IDS.length} drills of percussion, and ${PULSELESS_DRILL_IDS.length} pieces without a pulse, that the project synthesizes itself (tests/fixtures/music/synth.ts).`,
  'None of that music is part of this project; what is here are counts and weights over it.',
];

const folder = await musicFolder();
const heard = await hearAll(await renderAll(folder), folder);
const beats = learnBeats(heard);
const some = heard.filter((_, i) => i % PULSE_EVERY === 0);
const withPulse = some.flatMap((piece) => evidenceFor(piece, beats) ?? []);
const without = [...some.map(({ features }, seed) => warped(features, seed)), ...PULSELESS_DRILL_IDS.map(hearSynthesized)].flatMap((piece) => evidenceFor(piece, beats) ?? []);
const pulse = learnPulse(withPulse, without);
const told = (side: typeof withPulse): string => side.map((evidence) => pulseOf(evidence, pulse).toFixed(2)).toSorted().join(' ');
console.error(`pulse of music: ${told(withPulse)}\npulse of what has none: ${told(without)}`);
await writeFile(MODEL, `${JSON.stringify({ about, ...beats, pulse } satisfies Model)}\n`);
