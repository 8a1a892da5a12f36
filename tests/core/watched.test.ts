import { expect, it } from 'vitest';
import { Watched } from '../../web/src/sweep/watched.ts';

function played(...told: [frame: number, speed: number, pictures: number][]): [number, number][] {
  const watched = new Watched();
  for (const one of told) watched.saw(...one);
  return watched.take();
}

it('counts every frame that ran past, from the one it began on', () => {
  expect(played([10, 0, 1], [11, 1, 1], [12, 1, 1], [13, 1, 1])).toEqual([[10, 14]]);
});

it('does not count what was only stopped at or stepped to', () => {
  expect(played([10, 0, 1], [11, 0, 1], [12, 0, 1], [500, 0, 1])).toEqual([]);
});

it('counts the frame it stops on, though it comes after the stop', () => {
  expect(played([10, 0, 1], [11, 1, 1], [12, 0, 1], [80, 0, 1])).toEqual([[10, 13]]);
});

it('counts what a busy page was not told of where the screen showed it, and not where it did not', () => {
  expect(played([10, 0, 1], [11, 1, 1], [31, 1, 20])).toEqual([[10, 32]]);
  expect(played([10, 0, 1], [11, 1, 1], [61, 1, 20])).toEqual([
    [10, 12],
    [61, 62],
  ]);
});

it('takes every other frame at twice the speed for watching, and every fourth at four times for frames', () => {
  expect(played([0, 0, 1], [2, 2, 1], [4, 2, 1], [6, 2, 1])).toEqual([[0, 7]]);
  expect(played([0, 0, 1], [4, 4, 1], [8, 4, 1])).toEqual([
    [4, 5],
    [8, 9],
  ]);
});

it('counts the frames shown while running back, and nothing between', () => {
  expect(played([20, 0, 1], [19, -1, 1], [18, -1, 1], [15, -1, 1])).toEqual([
    [15, 16],
    [18, 20],
  ]);
});
