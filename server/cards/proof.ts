import type { Db } from '../platform/db.ts';
import { compare } from './compare.ts';
import type { Card, Proof } from './contract.ts';
import { elsewhere, listsOf, sentOf, toArrival } from './store.ts';

/** What the lists of a card say of what arrived of it, as of now. */
export async function proofOf(db: Db, card: Card, filmId: string): Promise<Proof> {
  const lists = await listsOf(db, card.id);
  const arrivals = (await sentOf(db, card.id)).map(toArrival);
  const listed = lists.flatMap(({ entries }) => entries.flatMap(({ sums }) => sums.filter(({ kinds }) => kinds.includes('xxh64')).map(({ value }) => value)));
  const proof = compare(lists, arrivals, await elsewhere(db, filmId, [...new Set(listed)]));
  const unread = card.manifests.filter(({ state }) => state === 'failed').length;
  return { ...proof, unread, allReceived: proof.allReceived && unread === 0 };
}
