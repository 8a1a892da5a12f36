import { describe, expect, it } from 'vitest';
import { frameIn, pageAt, roomAddress } from '../../web/src/app/address.ts';

describe('addresses of the page', () => {
  it.each([
    ['/', { page: 'films' }],
    ['/sign-in', { page: 'sign-in' }],
    ['/sign-in/', { page: 'sign-in' }],
    ['/welcome', { page: 'welcome' }],
    ['/account', { page: 'account' }],
    ['/join/abc-_9', { page: 'join', token: 'abc-_9' }],
    ['/films/f1', { page: 'room', film: 'f1', room: 'outline', subject: null }],
    ['/films/f1/sweep', { page: 'room', film: 'f1', room: 'sweep', subject: null }],
    ['/films/f1/picks/s1', { page: 'room', film: 'f1', room: 'picks', subject: 's1' }],
  ])('%s', (path, page) => {
    expect(pageAt(path)).toEqual(page);
  });

  it.each(['/films', '/films/f1/attic', '/films/f1/picks/s1/more', '/join', '/join/a/b', '/films/%E0%A4%A/outline', '/constructor'])('%s is nowhere', (path) => {
    expect(pageAt(path)).toEqual({ page: 'nowhere' });
  });

  it('leads back to what made it, whatever is in the names', () => {
    const address = roomAddress('f/1', 'sweep', { subject: 'clip ?#%', frame: 123 });
    const url = new URL(address, 'http://rushlight.test');
    expect(pageAt(url.pathname)).toEqual({ page: 'room', film: 'f/1', room: 'sweep', subject: 'clip ?#%' });
    expect(frameIn(url.searchParams)).toBe(123);
  });

  it.each([
    ['frame=0', 0],
    ['frame=', null],
    ['frame=-1', null],
    ['frame=1.5', null],
    ['frame=9999999999', null],
    ['', null],
  ])('?%s names frame %s', (query, frame) => {
    expect(frameIn(new URLSearchParams(query))).toBe(frame);
  });
});
