import { guarded, type App } from '../platform/http.ts';
import { markRoutes } from './marks.ts';
import { tieRoutes } from './ties.ts';
import { sendRoute, trackRoutes } from './tracks.ts';

export { listMarks, listTies, listTracks } from './store.ts';
export { startTrackWorker } from './worker.ts';

/** Music: candidate tracks and the one that is locked, the marks in them, and the lines of the outline tied to marks. */
export const music = guarded('music', async (app: App) => {
  await app.register(async (scope) => sendRoute(scope as App));
  trackRoutes(app);
  markRoutes(app);
  tieRoutes(app);
});
