// Places as cameras and phones note them: ISO 6709:2008, Annex H, a point written as latitude, longitude and perhaps
// height, each as degrees, degrees and minutes, or degrees, minutes and seconds, by the number of its digits.

export interface Place {
  /** Degrees north of the equator. */
  latitude: number;
  /** Degrees east of Greenwich. */
  longitude: number;
}

const POINT = /^([+-])(\d{2}|\d{4}|\d{6})(\.\d+)?([+-])(\d{3}|\d{5}|\d{7})(\.\d+)?([+-]\d+(\.\d+)?)?(CRS[^/]*)?\/?$/;

/** Reads a point. @returns null for what is none, or lies on no globe; 0, 0 is what phones write that do not know. */
export function readPlace(text: string): Place | null {
  const [, latSign, lat, latRest = '', lonSign, lon, lonRest = ''] = POINT.exec(text.trim()) ?? [];
  if (!lat || !lon) return null;
  const latitude = degrees(latSign!, lat, latRest, 2);
  const longitude = degrees(lonSign!, lon, lonRest, 3);
  if (latitude === null || longitude === null || Math.abs(latitude) > 90 || Math.abs(longitude) > 180) return null;
  return latitude === 0 && longitude === 0 ? null : { latitude, longitude };
}

function degrees(sign: string, digits: string, rest: string, width: number): number | null {
  const parts = [digits.slice(0, width), digits.slice(width, width + 2), digits.slice(width + 2)].filter((part) => part !== '');
  // The decimals belong to the smallest unit that is written.
  const values = parts.map((part, n) => Number(n === parts.length - 1 ? part + rest : part));
  if (values.slice(1).some((value) => value >= 60)) return null;
  const value = values.reduce((sum, part, n) => sum + part / 60 ** n, 0);
  return (sign === '-' ? -1 : 1) * value;
}

/** Mean radius of the Earth in metres (IUGG: 6371.0088 km, Moritz 2000, Geodetic Reference System 1980). */
const EARTH_M = 6_371_008.8;

/** Metres between two places, along the great circle. */
export function metresBetween(a: Place, b: Place): number {
  const radians = (degree: number) => (degree * Math.PI) / 180;
  const half = (x: number, y: number) => Math.sin(radians(y - x) / 2) ** 2;
  const h = half(a.latitude, b.latitude) + Math.cos(radians(a.latitude)) * Math.cos(radians(b.latitude)) * half(a.longitude, b.longitude);
  return 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(h)));
}
