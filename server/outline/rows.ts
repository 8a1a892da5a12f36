import type { Item as ItemRow } from '#prisma';
import { OPEN, type Wish } from '#core/wish.ts';
import type { Item } from './contract.ts';

/** A line of the outline as it is sent. */
export function toItem(row: ItemRow): Item {
  return {
    id: row.id,
    kind: row.kind,
    parentId: row.parentId,
    orderKey: row.orderKey,
    name: row.name,
    role: row.role,
    wish: toWish(row),
    fitted: row.fitted,
    mustShow: row.mustShow,
    comesIn: row.comesIn,
    goesOut: row.goesOut,
    decisions: row.decisions,
    removedAt: row.removedAt?.toISOString() ?? null,
    removalId: row.removalId,
  };
}

type WishColumns = Pick<ItemRow, 'targetFrames' | 'minFrames' | 'maxFrames' | 'share'>;

/** What a line asks for its length, from its columns. */
export function toWish({ targetFrames, minFrames, maxFrames, share }: WishColumns): Wish {
  if (targetFrames !== null) return { kind: 'fixed', frames: targetFrames };
  if (minFrames !== null && maxFrames !== null) return { kind: 'range', min: minFrames, max: maxFrames };
  return share === null ? OPEN : { kind: 'share', share };
}

/** The columns of a wish, all of them: what it does not say is cleared. */
export function fromWish(wish: Wish): WishColumns {
  return {
    targetFrames: wish.kind === 'fixed' ? wish.frames : null,
    minFrames: wish.kind === 'range' ? wish.min : null,
    maxFrames: wish.kind === 'range' ? wish.max : null,
    share: wish.kind === 'share' ? wish.share : null,
  };
}

/** A line as the table's columns, for statements that take many lines at once. */
export function toColumns(item: Item) {
  const { targetFrames, minFrames, maxFrames, share } = fromWish(item.wish);
  return {
    ...item,
    parent_id: item.parentId,
    order_key: item.orderKey,
    target_frames: targetFrames,
    min_frames: minFrames,
    max_frames: maxFrames,
    share,
    fitted_frames: item.fitted,
    must_show: item.mustShow,
    comes_in: item.comesIn,
    goes_out: item.goesOut,
    removed_at: item.removedAt,
    removal_id: item.removalId,
  };
}
