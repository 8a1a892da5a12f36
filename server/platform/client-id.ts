import { Type } from 'typebox';
import { Refusal } from './errors.ts';

/** An id made by the client with no help of the server, so that what is done without a link can be spoken of. */
export const ClientId = Type.String({ pattern: '^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$', description: 'A UUID.' });

/** @throws Refusal `bad-input` when a row has this id already. @param count rows of it */
export async function checkFreeId(id: string | undefined, count: (id: string) => Promise<number>): Promise<void> {
  if (id !== undefined && (await count(id)) > 0) throw new Refusal('bad-input', 'This id is taken.', { fields: [{ field: 'id', why: 'is taken' }] });
}
