/*
 * Addresses of the page, both ways. Every room has one, and `?frame=` names a frame in it.
 */

export const ROOM_IDS = ['outline', 'footage', 'cards', 'sweep', 'family', 'music', 'picks', 'string-out', 'ledger', 'turnover', 'crew'] as const;
export type RoomId = (typeof ROOM_IDS)[number];

export type Page =
  | { page: 'films' }
  | { page: 'sign-in' }
  | { page: 'welcome' }
  | { page: 'account' }
  | { page: 'join'; token: string }
  | { page: 'room'; film: string; room: RoomId; subject: string | null }
  | { page: 'nowhere' };

const PLAIN: Record<string, Page> = {
  '/': { page: 'films' },
  '/sign-in': { page: 'sign-in' },
  '/welcome': { page: 'welcome' },
  '/account': { page: 'account' },
};

/** What a path means. */
export function pageAt(path: string): Page {
  const plain = PLAIN[path.replace(/(.)\/+$/, '$1')];
  if (plain) return plain;
  let steps: string[];
  try {
    steps = path.split('/').filter(Boolean).map(decodeURIComponent);
  } catch {
    return { page: 'nowhere' };
  }
  const [first, second, room = 'outline', subject = null, ...more] = steps;
  if (first === 'join' && second && steps.length === 2) return { page: 'join', token: second };
  if (first === 'films' && second && more.length === 0 && isRoom(room)) return { page: 'room', film: second, room, subject };
  return { page: 'nowhere' };
}

/** Address of a room of a film, on a subject (a card in the cards, a clip in the sweep or the family bench, a slot in the picks, a track in the music), at a frame of it. */
export function roomAddress(film: string, room: RoomId, { subject, frame }: { subject?: string | null; frame?: number | null } = {}): string {
  const path = ['', 'films', film, room, ...(subject ? [subject] : [])].map(encodeURIComponent).join('/');
  return frame === undefined || frame === null ? path : `${path}?frame=${frame}`;
}

/** The frame an address names, or null. */
export function frameIn(query: URLSearchParams): number | null {
  const frame = query.get('frame');
  return frame !== null && /^\d{1,9}$/.test(frame) ? Number(frame) : null;
}

function isRoom(room: string): room is RoomId {
  return (ROOM_IDS as readonly string[]).includes(room);
}
