/** Where a key leads from a clip on the table. */
export type Way = 'left' | 'right' | 'up' | 'down' | 'first' | 'last';

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** The box that an arrow up or down leads to: the nearest line that way, and in it the nearest to the left or right. */
export function nextBox(boxes: readonly Box[], from: number, direction: 'up' | 'down'): number {
  const start = boxes[from];
  if (!start) return -1;
  const middle = (box: Box) => (box.left + box.right) / 2;
  const gap = (box: Box) => (direction === 'down' ? box.top - start.bottom : start.top - box.bottom);
  // A row's clips need not be equally tall, so whatever begins after the middle counts as beyond.
  const slack = (start.bottom - start.top) / 2;
  let best = -1;
  let cost = Infinity;
  boxes.forEach((box, n) => {
    if (n === from || gap(box) < -slack) return;
    const distance = gap(box) * 4 + Math.abs(middle(box) - middle(start));
    if (distance < cost) [best, cost] = [n, distance];
  });
  return best;
}
