import { frameIn, pageAt, type Page } from './address.ts';

// Browsers refuse more than about a hundred changes of address in half a minute.
const FRAME_EVERY_MS = 500;

let path = $state(location.pathname);
let search = $state(location.search);
let frameTimer: number | null = null;

const page: Page = $derived(pageAt(path));
const query = $derived(new URLSearchParams(search));
const frame = $derived(frameIn(query));

/** Where the page is. Links are plain `<a href>`; those to this server are followed without a reload. */
export const router = {
  get page(): Page {
    return page;
  },
  get path(): string {
    return path;
  },
  /** The frame in the address, or null. */
  get frame(): number | null {
    return frame;
  },
  get query(): URLSearchParams {
    return query;
  },
  /** Goes to an address of this page; `replace` leaves no step back to where it was. */
  go(address: string, { replace = false }: { replace?: boolean } = {}): void {
    forgetFrame();
    history[replace ? 'replaceState' : 'pushState'](null, '', address);
    read();
  },
  /** Keeps the frame on screen in the address, so that it can be copied; may be called at every frame. */
  showFrame(shown: number): void {
    if (frameTimer !== null) window.clearTimeout(frameTimer);
    frameTimer = window.setTimeout(() => {
      frameTimer = null;
      const next = new URL(location.href);
      next.searchParams.set('frame', String(shown));
      // The room is at that frame already: `frame` keeps saying what was asked for on arrival.
      history.replaceState(null, '', next);
    }, FRAME_EVERY_MS);
  },
};

/** Follows links and the browser's own back and forward; the function answered stops it. */
export function startRouter(): () => void {
  const release = new AbortController();
  addEventListener('popstate', () => {
    forgetFrame();
    read();
  }, { signal: release.signal });
  document.addEventListener('click', follow, { signal: release.signal });
  return () => release.abort();
}

function read(): void {
  path = location.pathname;
  search = location.search;
}

function forgetFrame(): void {
  if (frameTimer !== null) window.clearTimeout(frameTimer);
  frameTimer = null;
}

function follow(event: MouseEvent): void {
  if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  const link = (event.target as Element | null)?.closest?.('a[href]');
  if (!(link instanceof HTMLAnchorElement) || link.target || link.hasAttribute('download') || link.origin !== location.origin) return;
  if (link.pathname.startsWith('/api/') || (link.hash && link.pathname === location.pathname)) return;
  event.preventDefault();
  router.go(link.pathname + link.search);
}
