import type { Proposal } from '#contract/footage';
import { dayText } from '../ui/clock.ts';

/** Proposals that come to the same. */
export interface Group {
  key: string;
  words: string;
  reasons: string;
  proposals: readonly Proposal[];
}

const REASONS_SHOWN = 3;
const FACTS = ['camera', 'card', 'shootDay', 'location'] as const;

/** Proposals as a person decides on them: by what would be set, cameras first. */
export function groupsOf(proposals: readonly Proposal[]): Group[] {
  const byKey = new Map<string, Proposal[]>();
  for (const one of proposals) {
    const key = `${one.fact} ${one.to}`;
    const group = byKey.get(key);
    if (group) group.push(one);
    else byKey.set(key, [one]);
  }
  return [...byKey]
    .map(([key, group]) => ({ key, words: wordsOf(group), reasons: reasonsOf(group), proposals: group }))
    .sort((a, b) => FACTS.indexOf(a.proposals[0]!.fact) - FACTS.indexOf(b.proposals[0]!.fact) || a.key.localeCompare(b.key, undefined, { numeric: true }));
}

function wordsOf(group: readonly Proposal[]): string {
  const { fact, to } = group[0]!;
  const clips = group.length === 1 ? '1 clip' : `${group.length} clips`;
  if (fact === 'camera') return `Camera ${to}: ${clips}`;
  if (fact === 'location') return `Location ${to}: ${clips}`;
  if (fact === 'card') return `Card ${to}: ${clips}`;
  return `${dayText(to)}: ${clips}`;
}

function reasonsOf(group: readonly Proposal[]): string {
  const reasons = [...new Set(group.map(({ why }) => why))];
  return reasons.length > REASONS_SHOWN ? `${reasons.slice(0, REASONS_SHOWN).join('; ')}; and ${reasons.length - REASONS_SHOWN} more reasons` : reasons.join('; ');
}
