import type { Sending, SendingState } from './sending.svelte.ts';

const WORDS: Record<SendingState, string> = {
  waiting: 'waits its turn',
  hashing: 'checksum being made at the source',
  sending: 'on its way',
  cut: 'link lost, goes on by itself',
  paused: 'paused',
  arrived: 'arrived, checksum compared',
  refused: 'refused',
  broken: 'broken off',
};

/** What a file is at, with how far where that says something. */
export function sendingWords({ state, words, summed, file }: Sending): string {
  const far = state === 'hashing' && summed > 0 ? ` (${Math.floor((100 * summed) / file.size)}%)` : '';
  return `${WORDS[state]}${far}${words ? `: ${words}` : ''}`;
}

/** How a card's files stand, in a sentence. `total` files, of which some arrived and some were refused. */
export function arrivalWords({ total, arrived, refused }: { total: number; arrived: number; refused: number }): { all: boolean; words: string } {
  if (arrived === total) return { all: true, words: `All ${total} files given here were received, and each checksum is the one made at the source.` };
  if (arrived + refused < total) return { all: false, words: 'Not every file is here yet. Leave the card as it is.' };
  return { all: false, words: `${refused} of ${total} files were refused and are not here. Leave the card as it is, and copy them elsewhere if you need them.` };
}
