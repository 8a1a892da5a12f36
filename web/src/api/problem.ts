export interface FieldFault {
  field: string;
  why: string;
}

/** A refusal by the server (RFC 9457), or the lack of one: `no-connection` when it could not be reached. */
export class ApiProblem extends Error {
  override readonly name = 'ApiProblem';
  /** Stable; listed in DEVELOPERS.md, "Errors". */
  readonly code: string;
  /** HTTP status; 0 without an answer. */
  readonly status: number;
  readonly title: string;
  /** For the person: what is wrong here and what would be right. */
  readonly detail: string;
  readonly fields: readonly FieldFault[];
  /** Further members of the document, such as the rows as they now stand. */
  readonly more: Readonly<Record<string, unknown>>;

  constructor(problem: { code: string; status: number; title: string; detail: string; fields?: FieldFault[]; more?: Record<string, unknown> }) {
    super(problem.detail);
    this.code = problem.code;
    this.status = problem.status;
    this.title = problem.title;
    this.detail = problem.detail;
    this.fields = problem.fields ?? [];
    this.more = problem.more ?? {};
  }

  /** What is wrong with one field, or null. */
  faultOf(field: string): string | null {
    return this.fields.find((fault) => fault.field === field)?.why ?? null;
  }
}

/** What to tell the person about anything that was thrown. */
export function wordsOf(error: unknown): string {
  if (error instanceof Error) return error.message;
  return 'Something went wrong on this page.';
}
