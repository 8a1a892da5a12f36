import { describe, expect, it } from 'vitest';
import { mergeWords } from '#core/merge-words.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';

describe('two people writing in one text', () => {
  it.each([
    ['only they wrote', 'Boots', 'Wet boots', 'Boots', 'Wet boots'],
    ['only I wrote', 'Boots', 'Boots', 'Boots, close', 'Boots, close'],
    ['both the same', 'Boots', 'Wet boots', 'Wet boots', 'Wet boots'],
    ['before and after', 'low water', 'very low water', 'low water at dawn', 'very low water at dawn'],
    ['both at the end', 'Boots', 'Boots wet', 'Boots cold', 'Boots wet cold'],
    ['over each other', 'Boots', 'Shoes', 'Feet', 'Shoes / Feet'],
    ['they took away what I changed', 'Boots in mud', 'Boots', 'Boots in water', 'Boots / Boots in water'],
    ['from nothing', '', 'Bell', 'Rope', 'Bell Rope'],
    ['in two of several lines', 'mud\nsky', 'mud\nsky, grey', 'wet mud\nsky', 'wet mud\nsky, grey'],
  ])('%s', (_, base, theirs, mine, expected) => expect(mergeWords(base, theirs, mine)).toBe(expected));

  it('loses no word that either added, in 5,000 random meetings', () => {
    for (let seed = 1; seed <= 5000; seed++) {
      const random = randomFrom(seed);
      const base = Array.from({ length: Math.floor(random() * 6) }, () => oneOf(random, ['mud', 'sky', 'bell', 'rope']));
      const written = (by: string) => {
        const words = [...base];
        for (let n = 0; n < 2; n++) words.splice(Math.floor(random() * (words.length + 1)), random() < 0.4 ? 1 : 0, `${by}${n}`);
        return words.join(' ');
      };
      const [theirs, mine] = [written('t'), written('m')];
      const merged = mergeWords(base.join(' '), theirs, mine);
      for (const word of [...theirs.split(' '), ...mine.split(' ')].filter((word) => /^[tm]\d/.test(word))) expect(merged.split(/\s+/), `seed ${seed}: ${base.join(' ')} | ${theirs} | ${mine}`).toContain(word);
    }
  });
});
