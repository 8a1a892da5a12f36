import { describe, expect, it } from 'vitest';
import { metresBetween, readPlace } from '../../server/core/place.ts';

describe('a point as ISO 6709, Annex H, writes it', () => {
  it.each([
    // One point in the three forms; the standard's own example, from memory. 40° 12' 13.1", worked out by hand, is 40.203639°.
    ['+40.20361-075.00417/', 40.20361, -75.00417],
    ['+4012.22-07500.25/', 40.203667, -75.004167],
    ['+401213.1-0750015.1/', 40.203639, -75.004194],
    ['+27.5916+086.5640+8850CRSWGS_84/', 27.5916, 86.564],
    ['+00-025/', 0, -25],
    ['-90+000/', -90, 0],
    // What ffmpeg and phones write.
    ['+53.7000+007.5000+003.000/', 53.7, 7.5],
    ['+53.7000+007.5000', 53.7, 7.5],
  ])('%s', (text, latitude, longitude) => {
    const place = readPlace(text)!;
    expect(place.latitude).toBeCloseTo(latitude, 6);
    expect(place.longitude).toBeCloseTo(longitude, 6);
  });

  it.each(['', 'quay', '+91+000/', '+10+181/', '+4070-07500/', '53.7,7.5', '+53.7000', '+00+000/', '+00.0000+000.0000/'])('%j is no place', (text) => expect(readPlace(text)).toBeNull());
});

describe('metres between places', () => {
  it('of the pole and the equator, a degree, and across the date line', () => {
    // A quarter of a great circle of the mean Earth: 6371008.8 m * pi / 2.
    expect(metresBetween({ latitude: 90, longitude: 0 }, { latitude: 0, longitude: 0 })).toBeCloseTo(10_007_557.2, 0);
    expect(metresBetween({ latitude: 53, longitude: 7 }, { latitude: 54, longitude: 7 })).toBeCloseTo((6_371_008.8 * Math.PI) / 180, 0);
    expect(metresBetween({ latitude: 0, longitude: 179.5 }, { latitude: 0, longitude: -179.5 })).toBeCloseTo((6_371_008.8 * Math.PI) / 180, 0);
    expect(metresBetween({ latitude: 53, longitude: 7 }, { latitude: 53, longitude: 7 })).toBe(0);
  });
});
