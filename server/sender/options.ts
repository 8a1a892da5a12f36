import { parseArgs } from 'node:util';

export const USAGE = `Sends a folder, such as a camera card, to a film on a Rushlight server, and says whether all of it arrived.

  rushlight-send FOLDER --to https://films.example.org [--film TITLE-OR-ID] [--card NAME] [--camera LETTER]

  --to ADDRESS      the server; or RUSHLIGHT_URL
  --film NAME       the film, by its title or id; not needed with one film
  --card NAME       the card; the folder's name when left out
  --camera NAME     the camera it was in
  --follow          the folder is still being copied: files are sent as they are finished, until nothing changes any more
  --still SECONDS   with --follow, how long a file has to stand still to be finished (10)
  --quiet-for SECONDS  with --follow, how long the folder has to stand still to be finished (60)
  --at-once N       files on their way at a time (2)
  --patience SECONDS   how long to go on trying without the server or without room on it (86400)
  --list FILE       also writes the list of checksums here

Sign-in: RUSHLIGHT_EMAIL and RUSHLIGHT_PASSWORD, or it asks. A password is never taken from the command line, where
others on the machine can read it. Killed or cut off, it goes on where it stopped when it is started again.

It ends with  0 all received   1 not all received   2 wrong use   3 not let in   4 no server   5 the folder cannot be read
`;

export interface Options {
  folder: string;
  to: string;
  film: string | null;
  card: string | null;
  camera: string;
  follow: boolean;
  stillMs: number;
  quietMs: number;
  atOnce: number;
  patienceMs: number;
  list: string | null;
}

/** What ends the sender, with the code it ends with. */
export class Stop extends Error {
  readonly exitCode: 1 | 2 | 3 | 4 | 5;
  constructor(exitCode: 1 | 2 | 3 | 4 | 5, message: string) {
    super(message);
    this.exitCode = exitCode;
  }
}

/**
 * Reads the command line.
 * @returns null when help was asked for.
 * @throws Stop 2 with what is wrong.
 */
export function readOptions(args: string[], env: Record<string, string | undefined>): Options | null {
  const { values, positionals } = parse(args);
  if (values.help) return null;
  const [folder, ...more] = positionals;
  if (folder === undefined || more.length) throw new Stop(2, 'Name one folder to send.');
  const to = values.to ?? env['RUSHLIGHT_URL'];
  if (!to) throw new Stop(2, 'Say --to with the address of the server.');
  if (!URL.canParse(to) || !/^https?:$/.test(new URL(to).protocol)) throw new Stop(2, `${to} is no address; write it as https://films.example.org.`);
  if (new URL(to).username) throw new Stop(2, 'Leave name and password out of the address; others on the machine can read it.');
  return {
    folder,
    to: new URL(to).origin,
    film: values.film ?? null,
    card: values.card?.trim() || null,
    camera: values.camera?.trim() ?? '',
    follow: values.follow ?? false,
    stillMs: 1000 * number('still', values.still, 10),
    quietMs: 1000 * number('quiet-for', values['quiet-for'], 60),
    atOnce: Math.max(1, Math.min(8, Math.floor(number('at-once', values['at-once'], 2)))),
    patienceMs: 1000 * number('patience', values.patience, 86_400),
    list: values.list ?? null,
  };
}

function parse(args: string[]) {
  const text = { type: 'string' } as const;
  const options = { to: text, film: text, card: text, camera: text, still: text, 'quiet-for': text, 'at-once': text, patience: text, list: text, follow: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } } as const;
  try {
    return parseArgs({ args, options, allowPositionals: true });
  } catch (error) {
    throw new Stop(2, (error as Error).message);
  }
}

function number(name: string, text: string | undefined, otherwise: number): number {
  if (text === undefined) return otherwise;
  if (!/^\d+(\.\d+)?$/.test(text)) throw new Stop(2, `--${name} is a number of seconds or files, not ${text}.`);
  return Number(text);
}
