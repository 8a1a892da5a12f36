/** One second-order section: y = b0·x + b1·x₁ + b2·x₂ − a1·y₁ − a2·y₂. */
export type Section = readonly [b0: number, b1: number, b2: number, a1: number, a2: number];

/**
 * The two sections of K-weighting (ITU-R BS.1770-4, Annex 1) at any rate. The recommendation prints coefficients for 48 kHz
 * only and asks for the same response elsewhere; these are the analogue prototypes that give its table at 48 kHz, through
 * the bilinear transform.
 * @param sampleRate samples a second.
 */
export function kWeighting(sampleRate: number): readonly [shelf: Section, highPass: Section] {
  return [shelf(sampleRate), highPass(sampleRate)];
}

/** The head's effect: about +4 dB above 1.7 kHz. */
function shelf(sampleRate: number): Section {
  const k = Math.tan((Math.PI * 1681.974450955533) / sampleRate);
  const q = 0.7071752369554196;
  const high = 10 ** (3.999843853973347 / 20);
  const band = high ** 0.4996667741545416;
  const a0 = 1 + k / q + k * k;
  return [(high + (band * k) / q + k * k) / a0, (2 * (k * k - high)) / a0, (high - (band * k) / q + k * k) / a0, (2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0];
}

/** The ear's deafness to the lowest sounds: 38 Hz. */
function highPass(sampleRate: number): Section {
  const k = Math.tan((Math.PI * 38.13547087602444) / sampleRate);
  const q = 0.5003270373238773;
  const a0 = 1 + k / q + k * k;
  return [1, -2, 1, (2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0];
}
