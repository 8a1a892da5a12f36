import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { readOutline, TEXT_LIMITS, writeOutline, type TextLine } from '#core/outline-text.ts';
import { wishText, type Wish } from '#core/wish.ts';
import { rate, RATES } from '#core/rate.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';

const pal = rate(25);
const OUTLINES = new URL('../fixtures/outlines/', import.meta.url);
const FORMS = ['text', 'markdown'] as const;
const brief = (lines: readonly TextLine[], at = pal) => lines.map(({ depth, kind, role, name, wish }) => [depth, kind, role, name, wishText(wish, at)].join(' | '));

// The same invented outline in thirty habits of writing one; the habits are common practice, no source.
const FERRY = [
  '0 | part | opening | Opening: low water | 0:40',
  '1 | slot | body | Mud and sky | 0:12',
  '1 | slot | body | Boots | 0:06',
  '0 | part | body | The oyster beds | 0:30-0:50',
  '1 | part | body | Raking | 8%',
  '2 | slot | body | Hands and rake | 18f',
  '2 | slot | body | Basket fills | ',
  '1 | slot | body | First taste | 0:16',
  '0 | part | closing | Closing: last ferry | ',
  '1 | slot | body | Dark water | 0:08',
];

describe('outlines as people write them', () => {
  const files = readdirSync(OUTLINES).sort();
  it('are thirty', () => expect(files).toHaveLength(30));

  it.each(files)('%s: is read right, and written out again loses nothing', (file) => {
    const text = readFileSync(new URL(file, OUTLINES), 'utf8');
    const expected = file.includes('-bare') ? FERRY.map((line) => line.slice(0, line.lastIndexOf('|') + 2)) : FERRY;
    const { lines, faults, remarks } = readOutline(text, pal, { withoutTitle: true });
    expect(brief(lines)).toEqual(expected);
    expect(faults).toEqual([]);
    expect(remarks.filter(({ text }) => !text.includes('has no words in it'))).toEqual([]);
    for (const form of FORMS) expect(readOutline(writeOutline(lines, form, pal), pal).lines).toEqual(lines);
  });
});

describe('what a line says', () => {
  const only = (text: string, at = pal) => readOutline(`Part\n  ${text}`, at).lines[1]!;

  it.each<[string, string, Wish]>([
    ['Boots 0:40', 'Boots', { kind: 'fixed', frames: 1000 }],
    ['Boots(0:40)', 'Boots', { kind: 'fixed', frames: 1000 }],
    ['Boots 1:02:03', 'Boots', { kind: 'fixed', frames: 93075 }],
    ['Boots 0:04.12', 'Boots', { kind: 'fixed', frames: 112 }],
    ['Boots 2 min', 'Boots', { kind: 'fixed', frames: 3000 }],
    ['Boots 12.5 %', 'Boots', { kind: 'share', share: 1250 }],
    ['Boots 18f–2s', 'Boots', { kind: 'range', min: 18, max: 50 }],
    ['0:40', '', { kind: 'fixed', frames: 1000 }],
    ['Camera 2', 'Camera 2', { kind: 'open' }],
    ['Take 40', 'Take 40', { kind: 'open' }],
    ['The year 1984', 'The year 1984', { kind: 'open' }],
    ['Clips 12-14', 'Clips 12-14', { kind: 'open' }],
    ['Take 2 - 16s', 'Take 2', { kind: 'fixed', frames: 400 }],
    ['Boots 0:12 0:40', 'Boots 0:12', { kind: 'fixed', frames: 1000 }],
    ['Words in 0:40 between', 'Words in 0:40 between', { kind: 'open' }],
    ['v. slow pan', 'v. slow pan', { kind: 'open' }],
    ['3 boats', '3 boats', { kind: 'open' }],
    ['`Wait 40s`', 'Wait 40s', { kind: 'open' }],
    ['Wait 40s [no length]', 'Wait 40s', { kind: 'open' }],
    ['قارب على الرمل 0:40', 'قارب على الرمل', { kind: 'fixed', frames: 1000 }],
    ['渡し船 8%', '渡し船', { kind: 'share', share: 800 }],
  ])('%j', (text, name, wish) => expect(only(text)).toMatchObject({ name, wish }));

  it.each(['Clock 0:99', 'Clock 0:00', 'Clock 0:04.25', 'Clock 0:50-0:30', 'Clock 250%'])('leaves %j alone and says why', (text) => {
    const { lines, remarks } = readOutline(`Part\n  ${text}`, pal);
    expect(lines[1]).toMatchObject({ name: text, wish: { kind: 'open' } });
    expect(remarks).toEqual([{ at: 2, text: expect.stringContaining('was left in the name') }]);
  });

  it('takes notes to the line above, role words at the top, and marks of what a line is', () => {
    const { lines } = readOutline('opening shot list\n  Bell\n    Must show: the bell moving\n    Comes in: out of black\n    > and the rope\n  [part] Later\n[closing] Last ferry\n  Opening night', pal);
    expect(brief(lines)).toEqual(['0 | part | opening | opening shot list | ', '1 | slot | body | Bell | ', '1 | part | body | Later | ', '0 | part | closing | Last ferry | ', '1 | slot | body | Opening night | ']);
    expect(lines[1]).toMatchObject({ mustShow: 'the bell moving\nand the rope', comesIn: 'out of black', goesOut: '' });
  });

  it('makes leaves slots where the text goes into a part, and finds a title that holds everything', () => {
    expect(readOutline('Bell\nRope 0:04', pal, { into: 'part' }).lines.map(({ kind }) => kind)).toEqual(['slot', 'slot']);
    expect(readOutline('# Ferry\n## One\n## Two', pal).title).toBe('Ferry');
    expect(readOutline('# Ferry\n# One', pal).title).toBeNull();
  });
});

describe('writing and reading', () => {
  const PIECES = ['Boots', 'low water', '-', '–', '*', '1.', '2.3', 'a)', '(i)', '#', '##', '>', '`', '``', '40s', '0:40', '(0:40)', '[0:12]', '18f', '8%', '0:30-0:50', '0:99', '…', '......', ':', ',', '[no length]', '[no name]', '[opening]', '[part]', '[x]', 'Opening', 'closing', 'Must show:', 'Goes out: left', '**bold**', '_so_', '\\', '<b>', '&amp;', 'قارب', '渡し船', '🌊', '---', '===', '“quoted”', '  ', 'İ', '\u202E'];

  function wish(random: () => number): Wish {
    const frames = () => 1 + Math.floor(random() * 3000);
    return oneOf<() => Wish>(random, [
      () => ({ kind: 'open' }),
      () => ({ kind: 'fixed', frames: frames() }),
      () => ({ kind: 'share', share: 1 + Math.floor(random() * 10_000) }),
      () => {
        const min = frames();
        return { kind: 'range', min, max: min + frames() };
      },
    ])();
  }

  function tree(random: () => number): TextLine[] {
    const phrase = (most: number) => Array.from({ length: Math.floor(random() * most) }, () => oneOf(random, PIECES)).join(oneOf(random, [' ', ' ', ''])).trim();
    const lines: TextLine[] = [];
    for (let n = Math.floor(random() * 12); n > 0; n--) {
      const before = lines.at(-1);
      const depth = before ? Math.floor(random() * (before.depth + (before.kind === 'part' ? 2 : 1))) : 0;
      const kind = depth === 0 || random() < 0.4 ? 'part' : 'slot';
      const role = kind === 'part' ? oneOf(random, ['opening', 'body', 'body', 'closing'] as const) : 'body';
      const words = () => (random() < 0.2 ? phrase(6) : '');
      lines.push({ depth, kind, role, name: phrase(5), wish: wish(random), mustShow: words() + (random() < 0.1 ? `\n${phrase(3)}` : ''), comesIn: words(), goesOut: words() });
    }
    return lines;
  }

  it.each(FORMS)('give the same lines again: 2,000 random outlines of awkward names as %s', (form) => {
    for (let seed = 1; seed <= 2000; seed++) {
      const random = randomFrom(seed);
      const at = oneOf(random, RATES);
      const lines = tree(random);
      const written = writeOutline(lines, form, at);
      const back = readOutline(written, at);
      expect(back.lines, `seed ${seed}:\n${written}`).toEqual(lines);
      expect(back.faults).toEqual([]);
    }
  });

  it('writes for people: no marks where none are needed', () => {
    const { lines } = readOutline(readFileSync(new URL('13-roman.txt', OUTLINES), 'utf8'), pal);
    expect(writeOutline(lines, 'text', pal)).toBe(
      'Opening: low water (0:40)\n\tMud and sky (0:12)\n\tBoots (0:06)\nThe oyster beds (0:30-0:50)\n\tRaking (8%)\n\t\tHands and rake (18f)\n\t\tBasket fills\n\tFirst taste (0:16)\nClosing: last ferry\n\tDark water (0:08)\n',
    );
    expect(writeOutline(lines.slice(0, 3), 'markdown', pal)).toBe('# Opening: low water (0:40)\n\n- Mud and sky (0:12)\n- Boots (0:06)\n');
    expect(writeOutline([], 'text', pal)).toBe('');
  });
});

describe('hostile pastes', () => {
  const faultsOf = (text: string) => readOutline(text, pal).faults.map(({ text }) => text);

  it.each([
    ['one line of a megabyte', 'x'.repeat(1024 * 1024), /^This line has 1048576 characters/],
    ['a megabyte of spaces in a line', `a${' '.repeat(1024 * 1024)}b`, /^This line has 1048578 characters/],
    ['200 levels', Array.from({ length: 200 }, (_, i) => '\t'.repeat(i) + 'level').join('\n'), /^This line stands 21 levels deep; an outline has 20 at most/],
    ['more lines than there may be', 'line\n'.repeat(5001), /^The text has 5001 lines; at most 5000/],
    ['more text than can be read', 'line\n'.repeat(500_000), /^The text has 2500000 characters/],
    ['a name of 301 characters', 'n'.repeat(301), /^The name in this line has 301 characters; it can have 300/],
  ])('%s: says what is wrong', (_, text, why) => expect(faultsOf(text)[0]).toMatch(why));

  it('tells of the first faults only, so that the answer can be read', () => expect(faultsOf(`${'n'.repeat(301)}\n`.repeat(400))).toHaveLength(20));

  it('takes control characters out and says so, and keeps text from right to left with its marks', () => {
    const { lines, remarks, faults } = readOutline('Bo\u0000ots\u0007\u009b 0:06\n\u202Bقارب\u202C على \u200Fالرمل\n\uD800lone', pal);
    expect(lines.map(({ name }) => name)).toEqual(['Boots', '\u202Bقارب\u202C على \u200Fالرمل', '\uFFFDlone']);
    expect(remarks).toEqual([{ at: null, text: '3 control characters were taken out.' }]);
    expect(faults).toEqual([]);
  });

  it.each([['', ''], ['blank lines', '\n \n\t\n'], ['rules', '---\n***\n===']])('reads nothing from nothing: %s', (_, text) => expect(readOutline(text, pal).lines).toEqual([]));

  it('reads 5,000 lines, and names of 300 characters beyond the basic plane', () => {
    expect(readOutline('line\n'.repeat(TEXT_LIMITS.lines), pal).faults).toEqual([]);
    expect(readOutline('🌊'.repeat(300), pal)).toMatchObject({ faults: [], lines: [{ name: '🌊'.repeat(300) }] });
  });

  it.each([
    ['( after (', '('.repeat(2000)],
    ['stars', '*'.repeat(2000) + 'a'],
    ['digits', '1.'.repeat(1000) + 'a'],
    ['dots after words', `a${' .'.repeat(1000)} 0:40`],
    ['backquotes', '`'.repeat(1000) + ' ' + '`'.repeat(999)],
  ])('reads a thousand lines of %s to the end', (_, line) => expect(readOutline(`${line}\n`.repeat(1000), pal).faults.length).toBeGreaterThan(0));
});
