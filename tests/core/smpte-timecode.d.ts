// The package ships no types; this is the part the comparison uses.
declare module 'smpte-timecode' {
  interface Timecode {
    readonly frameCount: number;
    toString(): string;
  }
  export default function Timecode(time: number | string, rate: [number, number], drop: boolean): Timecode;
}
