import type { Action, Role } from './contract.ts';

const READ = ['film.read', 'crew.read', 'outline.read', 'clips.read', 'selects.read', 'offers.read', 'notes.read', 'music.read', 'ledger.read', 'clearances.read'] as const;

/** The one table of who may do what. A role name grants what it says and nothing else. */
const ROLE_ACTIONS: Record<Role, readonly Action[]> = {
  director: [...READ, 'film.edit', 'crew.manage', 'outline.edit', 'clips.upload', 'clips.edit', 'selects.edit', 'offers.edit', 'verdicts.give', 'notes.write', 'notes.settle', 'music.send', 'music.edit', 'music.lock', 'clearances.edit', 'turnover.make'],
  editor: [...READ, 'film.edit', 'crew.manage', 'outline.edit', 'clips.upload', 'clips.edit', 'selects.edit', 'offers.edit', 'notes.write', 'notes.settle', 'music.send', 'music.edit', 'music.lock', 'clearances.edit', 'turnover.make'],
  assistant: [...READ, 'clips.upload', 'clips.edit', 'selects.edit', 'notes.write', 'notes.settle', 'music.send', 'music.edit', 'clearances.edit', 'turnover.make'],
  field: [...READ, 'clips.upload', 'notes.write', 'music.send', 'clearances.edit'],
  viewer: ['film.read', 'outline.read', 'offers.read', 'notes.read'],
};

/**
 * What a member may do.
 * @param mayComment a viewer writes notes only when the invitation said so; every other role does anyway.
 */
export function actionsOf(role: Role, mayComment: boolean): Action[] {
  return role === 'viewer' && mayComment ? [...ROLE_ACTIONS.viewer, 'notes.write'] : [...ROLE_ACTIONS[role]];
}

/** Who manages the crew may grant any role but director, which only a director grants. */
export function mayGrant(granter: Role, role: Role): boolean {
  return granter === 'director' || (granter === 'editor' && role !== 'director');
}
