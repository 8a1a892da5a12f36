import { describe, expect, it } from 'vitest';
import { complete, mentionedIn, piecesOf, typingAt } from '../../server/core/mentions.ts';

const people = [
  { id: 'm', name: 'Maren' },
  { id: 'mk', name: 'Maren Kell' },
  { id: 't', name: 'Teo' },
  { id: 'i', name: 'Inês' },
];

describe('who a text names', () => {
  it.each<[string, string[]]>([
    ['@Teo, is this the tide?', ['t']],
    ['Ask @teo and @INÊS', ['t', 'i']],
    ['(@Maren)', ['m']],
    ['@Maren Kell and @Maren', ['mk', 'm']],
    ['@Marenka', []],
    ['teo@Teo', []],
    ['@ Teo', []],
    ['@@Teo', ['t']],
    ['@Teo @Teo', ['t']],
    ['@Nobody', []],
    ['', []],
  ])('%j', (text, ids) => {
    expect(mentionedIn(text, people)).toEqual(ids);
    expect(piecesOf(text, people).map((piece) => piece.text).join('')).toBe(text);
  });
});

describe('a mention being typed', () => {
  it.each<[string, string[] | null]>([
    ['@', ['m', 'mk', 't', 'i']],
    ['Ask @m', ['m', 'mk']],
    ['Ask @maren ', ['mk']],
    ['Ask @Maren', ['mk']],
    ['Ask @Teo', null],
    ['Ask @x', null],
    ['teo@m', null],
    ['Ask', null],
    ['', null],
  ])('%j could become %j', (text, ids) => {
    expect(typingAt(text, text.length, people)?.matches.map(({ id }) => id) ?? null).toEqual(ids);
  });

  it('is looked for before the caret only', () => {
    expect(typingAt('Ask @m', 3, people)).toBeNull();
    expect(typingAt('@', 0, people)).toBeNull();
  });

  it('is written out at its place, with one space behind it', () => {
    expect(complete('Ask @m about it', 6, 4, 'Maren')).toEqual({ text: 'Ask @Maren about it', caret: 11 });
    expect(complete('@t', 2, 0, 'Teo')).toEqual({ text: '@Teo ', caret: 5 });
  });
});
