// What the player does about errors that hls.js cannot mend. The pairs of type and detail are those of its API document,
// https://github.com/video-dev/hls.js/blob/master/docs/API.md#errors
import { ErrorDetails, ErrorTypes, type ErrorData } from 'hls.js';
import { expect, it } from 'vitest';
import { HlsErrors } from '../../web/src/player/hls-errors.ts';

const error = (type: ErrorTypes, details: ErrorDetails, code?: number) =>
  ({ type, details, ...(code ? { response: { code, url: '', data: '', text: '' } } : {}) }) as Pick<ErrorData, 'type' | 'details' | 'response'>;
const lost = error(ErrorTypes.NETWORK_ERROR, ErrorDetails.FRAG_LOAD_ERROR, 503);

it('loads on after a lost segment, and all again where the first list never came', () => {
  expect(new HlsErrors().remedyFor(lost, 0)).toEqual({ kind: 'load' });
  expect(new HlsErrors().remedyFor(error(ErrorTypes.NETWORK_ERROR, ErrorDetails.MANIFEST_LOAD_TIMEOUT), 0)).toEqual({ kind: 'reload' });
});

it('repairs the decoder, and tells what nothing mends', () => {
  expect(new HlsErrors().remedyFor(error(ErrorTypes.MEDIA_ERROR, ErrorDetails.BUFFER_APPEND_ERROR), 0)).toEqual({ kind: 'repair' });
  expect(new HlsErrors().remedyFor(error(ErrorTypes.OTHER_ERROR, ErrorDetails.INTERNAL_EXCEPTION), 0).kind).toBe('tell');
});

it('asks no more where the server says no', () => {
  for (const [code, words] of [[401, 'signed out'], [403, 'role'], [404, 'no longer']] as const) {
    const remedy = new HlsErrors().remedyFor(error(ErrorTypes.NETWORK_ERROR, ErrorDetails.FRAG_LOAD_ERROR, code), 0);
    expect(remedy).toEqual({ kind: 'tell', words: expect.stringContaining(words) });
  }
});

it('gives up after three within a minute, and counts only those close together', () => {
  const errors = new HlsErrors();
  for (const at of [0, 1000, 2000]) expect(errors.remedyFor(lost, at).kind).toBe('load');
  expect(errors.remedyFor(lost, 3000).kind).toBe('tell');
  expect(errors.remedyFor(lost, 64_000).kind).toBe('load');

  const again = new HlsErrors();
  for (const at of [0, 1000, 2000]) again.remedyFor(lost, at);
  again.clear();
  expect(again.remedyFor(lost, 3000).kind).toBe('load');
});
