/** A table as RFC 4180 has it: CRLF, and quotes round whatever holds a comma, a quote or a line end. */
export function csv(head: readonly string[], rows: readonly (readonly (string | number | boolean | null)[])[]): string {
  return [head, ...rows].map((row) => row.map(field).join(',')).join('\r\n') + '\r\n';
}

function field(value: string | number | boolean | null): string {
  const text = value === null ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value);
  // A leading sign makes spreadsheets run the rest as a formula; a blank before it does not change what a person reads.
  const safe = /^[=+@\t-]/.test(text) && typeof value === 'string' ? ` ${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
