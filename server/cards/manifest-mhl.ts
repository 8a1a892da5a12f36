// ASC MHL v1.0 (https://github.com/ascmitc/mhl-specification; schema: github.com/ascmitc/mhl, xsd/ASCMHL.xsd): one
// generation of a history. Hashes of folders are passed over: they follow from those of the files.
import { SaxesParser, type SaxesTagNS } from 'saxes';
import { Refusal } from '../platform/errors.ts';
import { Entries, fault, type Entry, type ListedSum, type ReadManifest } from './manifest.ts';
import { isSum, KINDS, type Kind } from './sums.ts';

const NAMESPACE = 'urn:ASC:MHL:v2.0';
/** A list is some elements deep; what is deeper is no list. */
const DEPTH = 32;

type Draft = Entry & { failed: boolean };

/** Reads one generation. Throws as `readManifest`. */
export function readMhl(text: string): ReadManifest {
  const parser = new SaxesParser({ xmlns: true, position: true });
  const entries = new Entries({ strict: true });
  const ignores: string[] = [];
  const open: string[] = [];
  let madeAt: Date | null = null;
  let said = '';
  let attributes: SaxesTagNS['attributes'] = {};
  let draft: Draft | null = null;
  let ended = false;

  parser.on('doctype', () => {
    throw new Refusal('refused-format', 'The list declares a document type, by which XML can refer to other files; ASC MHL needs none.');
  });
  parser.on('error', (error) => {
    throw fault('manifest-damaged', parser.line, `the XML is not whole: ${error.message.replace(/^\d+:\d+: /, '')}`);
  });
  parser.on('opentag', (tag) => {
    if (open.length === 0 && (tag.local !== 'hashlist' || tag.uri !== NAMESPACE)) {
      throw new Refusal('manifest-unknown', `This XML is no list of ASC MHL: its root would be <hashlist xmlns="${NAMESPACE}">.`);
    }
    open.push(tag.uri === NAMESPACE ? tag.local : `{${tag.uri}}${tag.local}`);
    if (open.length > DEPTH) throw fault('manifest-damaged', parser.line, 'elements are nested deeper than any list is.');
    said = '';
    attributes = tag.attributes;
    if (within('hashlist', 'hashes', 'hash')) draft = { path: '', bytes: null, sums: [], failed: false };
  });
  parser.on('text', (more) => void (said += more));
  parser.on('cdata', (more) => void (said += more));
  parser.on('closetag', (tag) => {
    if (within('hashlist', 'creatorinfo', 'creationdate')) madeAt = dateOf(said);
    else if (within('hashlist', 'processinfo', 'ignore', 'pattern')) ignores.push(said);
    else if (draft && within('hashlist', 'hashes', 'hash', open.at(-1)!)) readPart(draft, tag.local);
    else if (draft && within('hashlist', 'hashes', 'hash')) {
      close(draft);
      draft = null;
    }
    open.pop();
    ended ||= open.length === 0;
  });

  const within = (...path: string[]): boolean => open.length === path.length && path.every((name, n) => open[n] === name);
  const readPart = (to: Draft, name: string): void => {
    if (name === 'path') Object.assign(to, { path: said, bytes: sizeOf(attributes['size']?.value) });
    else if (name === 'previousPath') to.previousPath = said;
    else if (isKind(name)) {
      const value = name === 'c4' ? said.trim() : said.trim().toLowerCase();
      if (!isSum(name, value)) throw fault('manifest-damaged', parser.line, `"${value.slice(0, 100)}" is no ${name}.`);
      // 5.6.4: files are compared with hashes that were original or verified, never with failed ones.
      if (attributes['action']?.value === 'failed') to.failed = true;
      else to.sums.push({ kinds: [name], value } satisfies ListedSum);
    }
  };
  const close = ({ failed, ...entry }: Draft): void => {
    if (entry.sums.length === 0 && !failed) throw fault('manifest-damaged', parser.line, `"${entry.path}" has no checksum of a kind known here (${KINDS.join(', ')}).`);
    entries.add(entry, parser.line);
  };

  parser.write(text).close();
  if (!ended) throw new Refusal('manifest-damaged', 'The list ends before its last element does.');
  return { format: 'ascmhl', madeAt, ignores, entries: entries.list() };
}

const isKind = (name: string): name is Kind => (KINDS as readonly string[]).includes(name);

function sizeOf(text: string | undefined): number | null {
  return text !== undefined && /^\d{1,15}$/.test(text) ? Number(text) : null;
}

function dateOf(text: string): Date | null {
  const date = new Date(text.trim());
  return Number.isNaN(date.getTime()) ? null : date;
}
