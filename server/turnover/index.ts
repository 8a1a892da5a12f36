import { guarded, type App } from '../platform/http.ts';
import { clearanceRoutes } from './clearances.ts';
import { cutRoutes } from './cut-routes.ts';
import { turnoverRoutes } from './routes.ts';

/** The turnover: what leaves for the cutting room, checked before it leaves, and the rights that go with it. */
export const turnover = guarded('turnover', async (app: App) => {
  turnoverRoutes(app);
  cutRoutes(app);
  clearanceRoutes(app);
});
