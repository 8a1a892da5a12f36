// The package ships no types; this is the part the test uses.
declare module 'webvtt-parser' {
  export class WebVTTParser {
    parse(text: string, kind: string): { cues: { id: string; startTime: number; endTime: number; text: string }[]; errors: { message: string; line: number }[] };
  }
}
