// What is asked for of the footage, as it stands in the address, so that a link shares it.
import type { FilterName, FootageFilter } from '#contract/footage';
import { PICTURE_FAULTS, SOUND_FAULTS } from '#core/faults.ts';

const NAMES: readonly FilterName[] = ['words', 'camera', 'day', 'location', 'longer', 'shorter', 'seen', 'selects', 'fault', 'state'];
const ONE_OF: Partial<Record<FilterName, readonly string[]>> = {
  seen: ['none', 'partly', 'whole'],
  selects: ['none', 'some', 'circled', 'aside'],
  fault: [...PICTURE_FAULTS, ...SOUND_FAULTS],
  state: ['ready', 'unfinished', 'failed'],
};
const SHAPE: Partial<Record<FilterName, RegExp>> = { day: /^(\d{4}-\d{2}-\d{2}|none)$/, longer: /^\d{1,5}(\.\d+)?$/, shorter: /^\d{1,5}(\.\d+)?$/, words: /^.{1,200}$/, camera: /^.{0,40}$/, location: /^.{0,200}$/ };

/** What an address asks for; what it says wrongly is left out. */
export function filterIn(query: URLSearchParams): FootageFilter {
  const filter: Record<string, string> = {};
  for (const name of NAMES) {
    const value = query.get(name);
    if (value !== null && (ONE_OF[name]?.includes(value) ?? SHAPE[name]?.test(value) ?? false)) filter[name] = value;
  }
  return filter as FootageFilter;
}

/** As part of an address, with the question mark; empty where nothing is asked for. */
export function queryOf(filter: FootageFilter, more: Record<string, string | number | boolean> = {}): string {
  const query = new URLSearchParams();
  for (const name of NAMES) if (filter[name] !== undefined) query.set(name, String(filter[name]));
  for (const [name, value] of Object.entries(more)) query.set(name, String(value));
  const text = query.toString();
  return text && `?${text}`;
}

export const isEmpty = (filter: FootageFilter): boolean => NAMES.every((name) => filter[name] === undefined);
