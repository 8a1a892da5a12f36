import type { Clip as ClipRow } from '#prisma';
import type { Clip, ClipFailure } from './contract.ts';

/** Where a clip was shot, or null. */
export function placeOf({ latitude, longitude }: Pick<ClipRow, 'latitude' | 'longitude'>): Clip['place'] {
  return latitude === null || longitude === null ? null : { latitude, longitude };
}

/** A clip as it is sent. */
export function toClip(row: ClipRow): Clip {
  return {
    id: row.id,
    name: row.name,
    bytes: Number(row.bytes),
    xxh64: row.xxh64,
    checkedAtSource: row.sourceXxh64 === row.xxh64,
    camera: row.camera,
    card: row.card,
    shootDay: row.shootDay?.toISOString().slice(0, 10) ?? null,
    location: row.location,
    state: row.state,
    uploadedById: row.uploadedById,
    receivedAt: row.receivedAt.toISOString(),
    removedAt: row.removedAt?.toISOString() ?? null,
    rate: row.rateNum && row.rateDen ? { num: row.rateNum, den: row.rateDen } : null,
    variableRate: row.variableRate,
    frames: row.frames,
    startFrame: row.startFrame,
    dropFrame: row.dropFrame,
    width: row.width,
    height: row.height,
    rotation: row.rotation,
    audioChannels: row.audioChannels,
    capturedAt: row.capturedAt?.toISOString() ?? null,
    capturedZone: row.capturedZone,
    notedAt: row.notedAt?.toISOString() ?? null,
    notedZone: row.notedZone,
    place: placeOf(row),
    byHand: row.byHand as Clip['byHand'],
    make: row.make,
    model: row.model,
    reel: row.reel,
    proxyVersion: row.proxyVersion,
    failure: row.failure as ClipFailure | null,
    aside: row.asideReason && row.asideById && row.asideAt ? { reason: row.asideReason as NonNullable<Clip['aside']>['reason'], byId: row.asideById, at: row.asideAt.toISOString() } : null,
  };
}
