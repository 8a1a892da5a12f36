import type { Item } from '#contract/outline';
import type { AskOptions, Api } from '../api/client.ts';
import type { Pending } from './pending.ts';

/** Asks the server for one change of the outline. @returns the lines it touched, as they are now. Throws ApiProblem. */
export async function sendChange(api: Api, change: Pending, options: AskOptions): Promise<readonly Item[]> {
  if (change.what === 'make') {
    const { what: _, key: __, rescued: ___, ...line } = change;
    return [await api.post<Item>('/items', line, options)];
  }
  if (change.what === 'change') return [await api.patch<Item>(`/items/${change.id}`, change.change, options)];
  if (change.what === 'move') return [await api.post<Item>(`/items/${change.id}/move`, change.place, options)];
  if (change.what === 'remove') return (await api.post<{ items: Item[] }>('/removals', { items: [change.id], removal: change.removalId, saw: change.saw }, options)).items;
  return (await api.post<{ items: Item[] }>(`/removals/${change.removalId}/undo`, undefined, options)).items;
}
