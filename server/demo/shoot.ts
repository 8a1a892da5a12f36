import type { ClipSpec } from './footage.ts';
import type { DemoCamera, DemoClip } from './scenario.ts';

/** Cameras that exist nowhere. */
const CAMERAS: Record<DemoCamera, { make: string; model: string; sway: number }> = {
  A: { make: 'Invented', model: 'Tripod One', sway: 0 },
  B: { make: 'Invented', model: 'Hand Two', sway: 6 },
  D: { make: 'Invented', model: 'Drone Four', sway: 2 },
  Phone: { make: 'Invented', model: 'Pocket', sway: 4 },
};

/** First day of the shoot; the clocks of the cameras stand two hours east of UTC. */
const FIRST_DAY = Date.UTC(2026, 7, 17);
const DAY_MS = 86_400_000;

/** What has to be generated for a clip of the scenario. */
export function shootClip(clip: DemoClip, seed: number): ClipSpec {
  const { make, model, sway } = CAMERAS[clip.camera];
  const day = new Date(FIRST_DAY + (clip.day - 1) * DAY_MS).toISOString().slice(0, 10);
  const upright = clip.peculiar === 'portrait';
  return {
    name: clip.name,
    scene: clip.scene,
    rate: clip.rate,
    frames: Math.round((clip.seconds * clip.rate.num) / clip.rate.den),
    seed: seed + 1,
    sway,
    make,
    model,
    capturedAt: `${day}T${clip.at}:00+02:00`,
    reel: clip.card,
    ...(upright ? { width: 720, height: 1280, turned: true } : {}),
    ...(clip.startTimecode ? { startTimecode: clip.startTimecode } : {}),
    ...(clip.peculiar === 'no-sound' ? { silent: true } : {}),
    ...(clip.peculiar === 'hevc-10-bit' ? { codec: 'hevc-10-bit' as const } : {}),
    ...(clip.peculiar === 'variable-rate' ? { phoneRate: true } : {}),
  };
}
