import { checkOriginal, HEAD_BYTES, sniff } from '../proxies/index.ts';
import type { Tools } from '../platform/ffmpeg.ts';

export { HEAD_BYTES };

/** Refuses by the first bytes what is no video, before the rest is sent. Throws as `sniff`. */
export function judgeHead(head: Buffer): void {
  sniff(head);
}

/** Refuses a whole file that is no video, cut short, or of a kind that can refer to others. Throws as `checkOriginal`. */
export function judge(path: string, tools: Tools): Promise<void> {
  return checkOriginal(path, tools);
}
