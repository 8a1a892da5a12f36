// The check in words, for whoever opens the package: what is open, what was let go and by whom, and the rights.
import { formatDuration } from '#core/timecode.ts';
import { rateText } from '#core/rate.ts';
import { checkTurnover } from '../check.ts';
import { RIGHTS_CAUTION } from '../contract.ts';
import type { TurnoverFile, TurnoverInput } from '../input.ts';

const STATE = { kept: 'kept', missing: 'missing', 'not-needed': 'not needed' } as const;

/** `check.txt`. */
export function checkText(input: TurnoverInput): TurnoverFile {
  const { film, track, clearances } = input;
  const { remarks, frames, slots, approved, originals } = checkTurnover(input);
  const open = remarks.filter(({ letGo }) => letGo === null);
  const gone = remarks.flatMap(({ text, letGo }) => (letGo ? [`${text}\n  Let go by ${letGo.by}, ${letGo.at}: ${letGo.why}`] : []));
  const rights = [
    ...(track ? [`Music: ${[track.title, track.maker].filter(Boolean).join(', ')}: ${STATE[track.rights]}${track.licence ? ` (${track.licence})` : ''}`] : []),
    ...clearances.map(({ kind, name, state, words }) => `${kind === 'location' ? 'Location' : 'Person'}: ${name}: ${STATE[state]}${words ? ` (${words})` : ''}`),
  ];
  const section = (title: string, lines: readonly string[]): string[] => (lines.length ? ['', title, ...lines.map((line) => `- ${line}`)] : []);
  const text = [
    `${film.title}: turnover`,
    `As of ${film.at}, change ${film.seq}.${film.invented ? ' The film and everything in it is invented.' : ''}`,
    `${formatDuration(frames, film.rate, { toFrame: true })} at ${rateText(film.rate)}${film.drop ? ' drop-frame' : ''}, ${approved} of ${slots} slots approved, from ${originals} ${originals === 1 ? 'file' : 'files'}; handles of ${film.handles} frames.`,
    'Record timecode begins at one hour. Out points are exclusive. checksums.sha256 is read by sha256sum -c.',
    ...section('Open', open.map(({ text: words }) => words)),
    ...section('Let go', gone),
    ...section('Rights', [...rights, RIGHTS_CAUTION]),
  ];
  return { name: 'check.txt', type: 'text/plain; charset=utf-8', text: `${text.join('\n')}\n` };
}
