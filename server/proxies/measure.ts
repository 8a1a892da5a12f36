import type { Clip as ClipRow, Prisma } from '#prisma';
import { cameraOf, capturedOf, dayOf, type ClockOf } from '../footage/index.ts';
import type { Probe } from './probe.ts';

/**
 * The columns that measuring fills. What a person has set stays: shoot day and camera get a value only where none is.
 * The shoot day is the date on the camera's own clock, where that clock was set right by the right one.
 */
export function columnsOf(probe: Probe, row: ClipRow, clocks: ReadonlyMap<string, ClockOf>): Prisma.ClipUpdateInput {
  const facts = { ...row, make: probe.make, model: probe.model, reel: probe.reel };
  const camera = row.camera === '' && !row.byHand.includes('camera') ? (cameraOf(facts)?.to ?? '') : row.camera;
  const noted = { notedAt: probe.capturedAt, notedZone: probe.capturedZone };
  const captured = capturedOf(noted, clocks.get(camera));
  const day = row.shootDay === null && !row.byHand.includes('shootDay') ? dayOf({ ...facts, ...captured }) : null;
  return {
    state: 'working',
    rateNum: probe.rate.num,
    rateDen: probe.rate.den,
    variableRate: probe.variableRate,
    frames: probe.frames,
    startFrame: probe.startFrame,
    dropFrame: probe.dropFrame,
    width: probe.width,
    height: probe.height,
    rotation: probe.rotation,
    audioChannels: probe.audio?.channels ?? 0,
    ...noted,
    ...captured,
    make: probe.make,
    model: probe.model,
    reel: probe.reel,
    latitude: probe.place?.latitude ?? null,
    longitude: probe.place?.longitude ?? null,
    probe: probe as unknown as Prisma.InputJsonObject,
    camera,
    ...(day ? { shootDay: new Date(day.to) } : {}),
  };
}
