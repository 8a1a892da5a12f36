// Plain lists: a line a file, as coreutils (md5sum --help; info "md5sum invocation") and xxHash's xxhsum write them.
//   hash, blank, blank or "*", name          the mark tells text from binary, which is the same on every system here
//   \hash  name                              the name has \\ \n \r in it, written so
//   KIND (name) = hash                       --tag
//   XXH3_hash  name                          xxhsum -H3
import { Entries, fault, type ReadManifest } from './manifest.ts';
import { isSum, kindsOfLength, type Kind } from './sums.ts';

const TAGGED = /^(\\?)([A-Za-z0-9_-]+) \((.*)\) = ([0-9A-Fa-f]+)$/;
const PLAIN = /^(\\?)(XXH3_)?([0-9A-Fa-f]{8,128})(?: [ *]|\t)(.+)$/;
/** What starts a line of words: xxhsum and others write such heads. */
const REMARK = /^[#;]/;

const TAGS: Record<string, Kind> = { MD5: 'md5', SHA1: 'sha1', SHA256: 'sha256', SHA512: 'sha512', XXH32: 'xxh32', XXH64: 'xxh64', XXH3: 'xxh3', XXH128: 'xxh128' };

/** Reads a plain list. Throws as `readManifest`. */
export function readList(text: string): ReadManifest {
  const entries = new Entries({ strict: false });
  const lines = text.split(/\r?\n/);
  lines.forEach((line, n) => {
    if (line.trim() === '' || REMARK.test(line)) return;
    const { escaped, kinds, value, name } = readLine(line, n + 1, entries.size === 0);
    const path = escaped ? unescaped(name, n + 1) : name;
    entries.add({ path: withoutDot(path), bytes: null, sums: [{ kinds, value: value.toLowerCase() }] }, n + 1);
  });
  return { format: 'list', madeAt: null, ignores: [], entries: entries.list() };
}

function readLine(line: string, at: number, first: boolean): { escaped: boolean; kinds: Kind[]; value: string; name: string } {
  const tagged = TAGGED.exec(line);
  if (tagged) {
    const [, mark, tag = '', name = '', value = ''] = tagged;
    const kind = TAGS[tag.toUpperCase()];
    if (!kind) throw fault('manifest-unknown', at, `checksums of the kind ${tag} are not known here; ${Object.keys(TAGS).join(', ')} are.`);
    if (!isSum(kind, value)) throw fault('manifest-damaged', at, `this is no whole ${tag}.`);
    return { escaped: mark !== '', kinds: [kind], value, name };
  }
  const plain = PLAIN.exec(line);
  const [, mark, xxh3, value = '', name = ''] = plain ?? [];
  const kinds: Kind[] = xxh3 && isSum('xxh3', value) ? ['xxh3'] : xxh3 ? [] : kindsOfLength(value.length);
  if (kinds.length === 0) {
    if (first) throw fault('manifest-unknown', at, 'this is neither a line of a list of checksums nor the beginning of ASC MHL.');
    throw fault('manifest-damaged', at, 'this is no checksum with a name; the list is cut short or was changed.');
  }
  return { escaped: mark !== '', kinds, value, name };
}

function unescaped(name: string, at: number): string {
  return name.replace(/\\(.?)/g, (_, what: string) => {
    const meant = { '\\': '\\', n: '\n', r: '\r' }[what];
    if (meant === undefined) throw fault('manifest-damaged', at, 'a backslash in the name says nothing known.');
    return meant;
  });
}

const withoutDot = (path: string): string => path.replace(/^(\.[/\\])+/, '');
