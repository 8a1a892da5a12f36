import { guarded, type App } from '../platform/http.ts';
import { mediaRoutes } from './media.ts';

export { startProxyWorker, type ProxyWorker } from './worker.ts';
export { isPassing } from './failure.ts';
export { firstDecodeTime } from './check.ts';
export { checkOriginal, HEAD_BYTES, inputArgs, isListOfFiles, sniff } from './safety.ts';

/** What plays in the browser: proxies, made by workers and served behind the film's membership. */
export const proxies = guarded('proxies', async (app: App) => mediaRoutes(app));
