// Names of files on a camera card, as everybody who walks a card has to see them: the page, the sender, and the server.

/** What operating systems leave on a card for themselves (common practice, no source). */
const SYSTEM_FILE = /^(\._.*|\.DS_Store|Thumbs\.db|desktop\.ini)$/i;
const SYSTEM_FOLDER = /^(\.Spotlight-V100|\.Trashes|\.fseventsd|\.TemporaryItems|\.DocumentRevisions-V100|System Volume Information|\$RECYCLE\.BIN|lost\+found)$/i;

/** Whether a file is the operating system's own and no part of the card. @param path with `/` between names. */
export function isSystemFile(path: string): boolean {
  const names = path.split('/');
  const last = names.pop() ?? '';
  return SYSTEM_FILE.test(last) || names.some((name) => SYSTEM_FOLDER.test(name));
}

/** Endings that cameras and phones give to clips (common practice, no source). */
const CLIP_ENDING = /\.(mp4|m4v|mov|mxf|avi|mts|m2ts|mkv|mpg|mpeg|wmv|3gp|webm|ogv)$/i;

/** Whether a file is, by its name, a clip: one without a picture in it is broken, and no sidecar. */
export function isClipName(path: string): boolean {
  return CLIP_ENDING.test(path);
}

const LIST_ENDING = /\.(mhl|md5|sha1|sha256|sha512|xxh|xxh32|xxh64|xxh3|xxh128|xxhash)$/i;
const LIST_NAME = /^(md5|sha1|sha256|sha512|xxh\w*)sums?(\.txt)?$/i;

/** Whether a file is, by its name, a list of files and checksums (names of the programs that write them). */
export function isManifestName(path: string): boolean {
  const name = path.split('/').at(-1) ?? '';
  return LIST_ENDING.test(name) || LIST_NAME.test(name);
}

/** Whether a file lies in the folder in which ASC MHL keeps its history (ASC MHL v1.0, 5.2). */
export function isHistoryFile(path: string): boolean {
  return path.split('/').slice(0, -1).includes('ascmhl');
}

/** A line of a list in the form with tags, as coreutils and xxhsum write and read it; odd names written as coreutils do. */
export function listLine(path: string, xxh64: string): string {
  const odd = /[\\\n\r]/.test(path);
  const name = odd ? path.replaceAll('\\', '\\\\').replaceAll('\n', '\\n').replaceAll('\r', '\\r') : path;
  return `${odd ? '\\' : ''}XXH64 (${name}) = ${xxh64}\n`;
}

/**
 * One key for the spellings of one path: systems differ in how they compose accents (Unicode NFC and NFD) and in what
 * parts names. For comparing only; the path itself is kept as it was given.
 */
export function pathKey(path: string): string {
  return path.normalize('NFC').replaceAll('\\', '/').replace(/^(\.\/)+/, '').replace(/\/{2,}/g, '/');
}
