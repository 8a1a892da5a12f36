import type { Role } from '#contract/access';

/** What each role is for, in the order of how much it may do. */
export const ROLE_WORDS: Record<Role, string> = {
  director: 'Shapes the outline, gives the verdicts, manages the crew, and everything an editor does.',
  editor: 'Shapes the outline, cuts selects, makes offers, manages the crew; gives no verdicts.',
  assistant: 'Sends clips, sets their days and cameras straight, cuts selects, settles notes.',
  field: 'Sends clips, sees everything, writes notes.',
  viewer: 'Sees the outline and what is on offer, and writes notes if that is allowed.',
};

export const ROLE_NAMES = Object.keys(ROLE_WORDS) as Role[];

/** Roles that somebody may give: only a director makes a director. */
export function grantable(granter: Role): Role[] {
  return granter === 'director' ? ROLE_NAMES : ROLE_NAMES.filter((role) => role !== 'director');
}
