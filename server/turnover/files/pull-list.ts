// What has to be fetched from the cards: every stretch that plays with its handles, one row a stretch of an original.
import { intersect, union, type FrameRange } from '#core/range.ts';
import { rateText } from '#core/rate.ts';
import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { available, handlesIn, sourceLabel, type MeasuredClip, type Source } from '../source.ts';
import { csvFile } from './csv.ts';
import { placed } from './placed.ts';

/** The originals that play, by card and path; stretches that meet with their handles are one. */
export function pullList(input: TurnoverInput): TurnoverFile {
  const files = new Map<string, { source: Source; clip: MeasuredClip; ranges: FrameRange[]; uses: { range: FrameRange; slot: string }[] }>();
  for (const { line, take } of placed(input)) {
    if (!take) continue;
    const { source, clip, inSource } = take;
    const key = source.known === 'original' ? `${source.card}/${source.path}` : clip.id;
    const file = files.get(key) ?? { source, clip, ranges: [], uses: [] };
    const handles = handlesIn(source, input);
    const asked = { in: inSource.in - handles, outExclusive: inSource.outExclusive + handles };
    // Where nobody knows what lies beyond, what plays is asked for all the same.
    file.ranges.push(intersect(asked, available(source, clip)) ?? inSource);
    file.uses.push({ range: inSource, slot: line.label });
    files.set(key, file);
  }
  const columns = ['file', 'card', 'reel', 'camera original', 'rate', 'in with handles', 'out with handles', 'frames', 'file starts at', 'file ends at', 'size', 'xxh64', 'clip', 'slots'] as const;
  const rows = [...files.values()]
    .sort((a, b) => compare(a.source.card, b.source.card) || compare(a.source.path, b.source.path) || compare(a.clip.id, b.clip.id))
    .flatMap(({ source, clip, ranges, uses }) =>
      union(ranges).map((range) => ({
        file: source.path,
        card: source.card,
        reel: source.reel,
        'camera original': source.known === 'original' ? 'matched' : source.known === 'own' ? 'the clip itself' : 'not matched',
        rate: rateText(source.rate),
        'in with handles': sourceLabel(range.in, source),
        'out with handles': sourceLabel(range.outExclusive, source),
        frames: range.outExclusive - range.in,
        'file starts at': sourceLabel(source.startFrame, source),
        'file ends at': source.frames === null ? null : sourceLabel(source.startFrame + source.frames, source),
        size: source.bytes,
        xxh64: source.xxh64,
        clip: clip.name,
        slots: uses.filter((use) => intersect(use.range, range)).map(({ slot }) => slot).join(' '),
      })),
    );
  return csvFile('pull-list.csv', columns, rows);
}

const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
