// Clips that a page holds, against a server whose answers and events come late and in any mixture.
import { expect, it } from 'vitest';
import type { ClipsWhole, FilmEvent, Rows } from '../../server/live/contract.ts';
import { Holding } from '../../web/src/live/holding.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';

type Words = Map<string, string>;
/** Only what is looked at here: ids, the clip, and words that change. */
const rowsOf = (clip: string, words: Words): ClipsWhole['rows'] =>
  ({ clips: [], selects: [...words].filter(([id]) => id.startsWith(`${clip}/`)).map(([id, label]) => ({ id, clipId: clip, label })), notes: [] }) as unknown as ClipsWhole['rows'];

class Page {
  readonly rows: Words = new Map();
  readonly asked: { ids: readonly string[]; answer: (whole: ClipsWhole) => void; fail: () => void }[] = [];
  readonly holding = new Holding({
    load: (ids) => new Promise((answer, fail) => this.asked.push({ ids, answer, fail: () => fail(new Error('no link')) })),
    put: (ids, { rows }) => {
      this.#drop(ids);
      this.#take(rows);
    },
    change: (rows) => this.#take(rows),
    drop: (ids) => this.#drop(ids),
  });

  hear(event: FilmEvent): void {
    this.#take(this.holding.rowsOf(event));
  }

  of(clip: string): Words {
    return new Map([...this.rows].filter(([id]) => id.startsWith(`${clip}/`)));
  }

  #take({ selects }: Rows): void {
    for (const { id, label, removedAt } of selects ?? []) {
      if (removedAt) this.rows.delete(id);
      else this.rows.set(id, label);
    }
  }

  #drop(ids: readonly string[]): void {
    for (const id of this.rows.keys()) if (ids.includes(id.split('/')[0]!)) this.rows.delete(id);
  }
}

const CLIPS = ['a', 'b', 'c'];
const turn = () => new Promise((done) => setImmediate(done));

it.each(Array.from({ length: 60 }, (_, n) => n + 1))('ends as the server is, whatever meets what (seed %i)', async (seed) => {
  const next = randomFrom(seed);
  const [server, page] = [new Map<string, string>(), new Page()];
  const onTheWay: FilmEvent[] = [];
  const answers: (() => void)[] = [];
  const held = new Map<string, () => void>();
  let [seq, failures] = [0, 0];
  const answer = async (): Promise<void> => {
    await turn();
    // What the server says is as of when it is asked; when it is heard is another matter.
    for (const one of page.asked.splice(0)) {
      if (next() < 0.03) {
        one.fail();
        failures += 1;
      }
      const whole: ClipsWhole = { seq, rows: { clips: [], selects: one.ids.flatMap((id) => rowsOf(id, server).selects), notes: [] }, seen: [] };
      answers.push(() => one.answer(whole));
    }
  };
  for (let step = 0; step < 80; step++) {
    const what = next();
    const clip = oneOf(next, CLIPS);
    if (what < 0.4) {
      const id = `${clip}/${oneOf(next, ['1', '2'])}`;
      const gone = next() < 0.25;
      if (gone) server.delete(id);
      else server.set(id, `words ${step}`);
      onTheWay.push({ seq: ++seq, rows: { selects: [{ id, clipId: clip, label: `words ${step}`, removedAt: gone ? 'now' : null }] } } as unknown as FilmEvent);
    } else if (what < 0.6) for (const event of onTheWay.splice(0, 1 + Math.floor(next() * 3))) page.hear(event);
    else if (what < 0.75) answers.shift()?.();
    else if (what < 0.9 && !held.has(clip)) held.set(clip, page.holding.hold(clip));
    else {
      held.get(clip)?.();
      held.delete(clip);
    }
    await answer();
  }
  for (const clip of CLIPS) if (!held.has(clip)) held.set(clip, page.holding.hold(clip));
  for (const event of onTheWay.splice(0)) page.hear(event);
  await answer();
  for (const one of answers.splice(0)) one();
  await turn();
  // One whose loading failed is asked for again by a clock, which is not waited for here.
  for (const clip of CLIPS) if (page.holding.isHere(clip)) expect(page.of(clip)).toEqual(new Map([...server].filter(([id]) => id.startsWith(`${clip}/`))));
  if (failures === 0) expect(CLIPS.filter((clip) => page.holding.isHere(clip))).toEqual(CLIPS);
  page.holding.close();
});

it('keeps what was looked at a moment ago, and lets go of what was long before', async () => {
  const page = new Page();
  const ids = Array.from({ length: 20 }, (_, n) => `clip${n}`);
  for (const id of ids) {
    const end = page.holding.hold(id);
    await turn();
    page.asked.splice(0).forEach(({ answer }) => answer({ seq: 1, rows: { clips: [], selects: [], notes: [] }, seen: [] }));
    await turn();
    end();
  }
  await turn();
  expect(ids.filter((id) => page.holding.isHere(id))).toEqual(ids.slice(-12));
});

it('asks for what is wanted in one turn at once', async () => {
  const page = new Page();
  for (const id of CLIPS) page.holding.hold(id);
  await turn();
  expect(page.asked.map(({ ids }) => ids)).toEqual([CLIPS]);
});
