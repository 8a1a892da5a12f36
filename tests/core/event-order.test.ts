import { describe, expect, it } from 'vitest';
import type { FilmEvent } from '../../server/live/contract.ts';
import { EventOrder } from '../../web/src/live/event-order.ts';

const film = 'film';
const eventOf = (seq: number): FilmEvent => ({ film, seq, actorId: null, client: null, kind: 'item.changed', subject: 'item', rows: {}, at: '2026-03-03T06:00:00.000Z' });

/** A server's table of events: `until` is how many are written so far. */
function tableOf({ until, page = 3, refuse = () => false }: { until: () => number; page?: number; refuse?: () => boolean }) {
  return async (after: number): Promise<FilmEvent[]> => {
    await Promise.resolve();
    if (refuse()) throw new Error('no connection');
    return Array.from({ length: Math.min(page, Math.max(0, until() - after)) }, (_, i) => eventOf(after + 1 + i));
  };
}

/** Small, seeded, so that a failure can be had again (mulberry32, public domain). */
function randomFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

describe('the order of events in the page', () => {
  it('applies what comes next and drops what it has', () => {
    const applied: number[] = [];
    const order = new EventOrder(4, ({ seq }) => applied.push(seq), tableOf({ until: () => 0 }));
    for (const seq of [4, 5, 5, 3, 6]) order.take(eventOf(seq));
    expect(applied).toEqual([5, 6]);
    expect(order.seq).toBe(6);
  });

  it('fetches what a hole shows to be missing, over several pages, before what came after it', async () => {
    const applied: number[] = [];
    const order = new EventOrder(0, ({ seq }) => applied.push(seq), tableOf({ until: () => 9 }));
    order.take(eventOf(9));
    expect(applied).toEqual([]);
    await order.fill();
    expect(applied).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9]);
  });

  it('says that fetching failed, and goes on from where it was once it does not', async () => {
    let down = true;
    const applied: number[] = [];
    const order = new EventOrder(0, ({ seq }) => applied.push(seq), tableOf({ until: () => 2, refuse: () => down }));
    await expect(order.fill()).rejects.toThrow('no connection');
    expect(applied).toEqual([]);
    down = false;
    await order.fill();
    expect(applied).toEqual([1, 2]);
  });

  it('asks again for a hole that showed while an answer from before it was on its way', async () => {
    const applied: number[] = [];
    let written = 0;
    let asked = 0;
    const order: EventOrder = new EventOrder(0, ({ seq }) => applied.push(seq), async (after) => {
      const answer = Array.from({ length: written - after }, (_, i) => eventOf(after + 1 + i));
      await Promise.resolve();
      // Two are written after the table was read; the message of the first is lost.
      if (asked++ === 0) order.take(eventOf((written = 2)));
      return answer;
    });
    await order.fill();
    expect(applied).toEqual([1, 2]);
  });

  it('forgets what was on its way when it begins again from a snapshot', async () => {
    const applied: number[] = [];
    const order = new EventOrder(0, ({ seq }) => applied.push(seq), tableOf({ until: () => 5 }));
    const stale = order.fill();
    order.reset(5);
    await stale;
    order.take(eventOf(6));
    expect(applied).toEqual([6]);
  });

  it.each([1, 2, 3, 4, 5])('ends with every event once and in order, whatever is lost, late or doubled (seed %i)', async (seed) => {
    const random = randomFrom(seed);
    const total = 1000;
    let written = 0;
    const applied: number[] = [];
    const order = new EventOrder(0, ({ seq }) => applied.push(seq), tableOf({ until: () => written, page: 20, refuse: () => random() < 0.3 }));
    const late: FilmEvent[] = [];
    while (written < total) {
      const event = eventOf(++written);
      const fate = random();
      if (fate < 0.6) order.take(event);
      else if (fate < 0.8) late.push(event);
      if (fate < 0.1) order.take(event);
      if (late.length && random() < 0.3) order.take(late.splice(Math.floor(random() * late.length), 1)[0]!);
      if (random() < 0.2) await Promise.resolve();
    }
    // The connection is back: the page asks for the rest until the server answers.
    for (let tries = 0; order.seq < total && tries < 1000; tries++) await order.fill().catch(() => {});
    expect(applied).toEqual(Array.from({ length: total }, (_, i) => i + 1));
  });
});
