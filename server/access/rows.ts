import type { Invitation as InvitationRow, Member as MemberRow } from '#prisma';
import type { Tx } from '../platform/db.ts';
import type { Member } from '../films/contract.ts';
import type { Invitation } from './contract.ts';

/** A member as it is sent; `removedAt` is set in the event that ends the membership. */
export function toMember(row: MemberRow & { user: { name: string } }, removedAt: Date | null = null): Member {
  return {
    id: row.userId,
    name: row.user.name,
    role: row.role,
    mayComment: row.mayComment,
    joinedAt: row.joinedAt.toISOString(),
    removedAt: removedAt?.toISOString() ?? null,
  };
}

/** Everyone in a film, in the order they joined. */
export async function listMembers(tx: Tx, filmId: string): Promise<Member[]> {
  const rows = await tx.member.findMany({ where: { filmId }, include: { user: true }, orderBy: { joinedAt: 'asc' } });
  return rows.map((row) => toMember(row));
}

/** An invitation as it is sent; its token is not in the database. */
export function toInvitation(row: InvitationRow): Invitation {
  return {
    id: row.id,
    role: row.role,
    mayComment: row.mayComment,
    createdAt: row.createdAt.toISOString(),
    expiresAt: row.expiresAt.toISOString(),
    acceptedAt: row.acceptedAt?.toISOString() ?? null,
    revokedAt: row.revokedAt?.toISOString() ?? null,
  };
}
