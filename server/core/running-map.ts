import type { Budget } from './budget.ts';
import type { Line, OutlineRow } from './outline.ts';

/** A line of the outline as a band in running time: from `in` to `outExclusive`, in frames of the film. */
export interface Band<Row extends OutlineRow> {
  readonly line: Line<Row>;
  readonly in: number;
  readonly outExclusive: number;
}

/** The running-time map: one row of bands a level of the outline, each as long as the budget has it; `total` is where the last ends. */
export function runningMap<Row extends OutlineRow>(lines: readonly Line<Row>[], budget: Budget): { readonly levels: readonly Band<Row>[][]; readonly total: number } {
  const levels: Band<Row>[][] = [];
  for (const line of lines) {
    const { start, frames } = budget.lines.get(line.row.id)!;
    (levels[line.depth] ??= []).push({ line, in: start, outExclusive: start + frames });
  }
  return { levels, total: levels[0]?.at(-1)?.outExclusive ?? 0 };
}
