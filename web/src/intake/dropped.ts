import { isSystemFile } from '#core/card-files.ts';

/** A file with its place on the card. */
export interface Dropped {
  file: File;
  relativePath: string;
}

/** The files of a drop, folders walked through. */
export async function filesOfDrop(data: DataTransfer): Promise<Dropped[]> {
  const entries = [...data.items].map((item) => item.webkitGetAsEntry()).filter((entry) => entry !== null);
  if (entries.length === 0) return filesOfInput(data.files);
  return (await Promise.all(entries.map((entry) => walk(entry)))).flat();
}

/** The files of an input, also of one that takes a folder. */
export function filesOfInput(files: FileList): Dropped[] {
  return [...files].map((file) => ({ file, relativePath: file.webkitRelativePath || file.name })).filter(({ relativePath }) => !isSystemFile(relativePath));
}

async function walk(entry: FileSystemEntry): Promise<Dropped[]> {
  if (entry.isFile) {
    const file = await new Promise<File>((done, fail) => (entry as FileSystemFileEntry).file(done, fail));
    const relativePath = entry.fullPath.replace(/^\//, '');
    return isSystemFile(relativePath) ? [] : [{ file, relativePath }];
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const inside: FileSystemEntry[] = [];
  // A reader gives a hundred at a time, and nothing when it is done.
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((done, fail) => reader.readEntries(done, fail));
    if (some.length === 0) break;
    inside.push(...some);
  }
  return (await Promise.all(inside.map((one) => walk(one)))).flat();
}
