import type { Me } from '#contract/access';
import { api, whenSignedOut } from '../api/client.ts';
import { ApiProblem } from '../api/problem.ts';

let me: Me | null = $state.raw(null);
let known = $state(false);

whenSignedOut(() => (me = null));

/** Who is signed in at this browser. */
export const session = {
  get me(): Me | null {
    return me;
  },
  /** Whether the server has been asked yet. */
  get known(): boolean {
    return known;
  },
  /** Asks the server. Throws ApiProblem, but not for being signed out. */
  async load(): Promise<void> {
    try {
      me = await api.get<Me>('/api/me');
    } catch (error) {
      if (!(error instanceof ApiProblem) || error.status !== 401) throw error;
      me = null;
    }
    known = true;
  },
  /** Throws ApiProblem. */
  async signIn(email: string, password: string): Promise<void> {
    await api.post('/api/auth/sign-in/email', { email, password });
    await session.load();
  },
  async signOut(): Promise<void> {
    await api.post('/api/auth/sign-out', {});
    me = null;
  },
  /** For the routes that answer an account they have just signed in. */
  adopt(account: Me): void {
    me = account;
    known = true;
  },
};
