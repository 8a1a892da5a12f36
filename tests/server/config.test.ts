import { mkdtempSync, readFileSync, statSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { ConfigError, readConfig } from '../../server/platform/config.ts';

const DATA_DIR = mkdtempSync(join(tmpdir(), 'rushlight-config-'));
afterAll(() => rm(DATA_DIR, { recursive: true, force: true }));

describe('the environment', () => {
  it('may say nothing at all', () => {
    expect(readConfig({ DATA_DIR })).toMatchObject({ role: 'all', host: '127.0.0.1', port: 4600, databaseUrl: null, publicUrl: null, trustProxy: false });
  });

  it('is read as numbers and truths', () => {
    expect(readConfig({ DATA_DIR, PORT: '8080', TRUST_PROXY: 'true', ROLE: 'worker' })).toMatchObject({ port: 8080, trustProxy: true, role: 'worker' });
  });

  it('treats an empty variable as one that is not set', () => {
    expect(readConfig({ DATA_DIR, PUBLIC_URL: '' }).publicUrl).toBeNull();
  });

  it.each([
    ['PORT', '70000'],
    ['PORT', 'http'],
    ['ROLE', 'boss'],
    ['PUBLIC_URL', 'films.example.org'],
    ['PUBLIC_URL', 'https://films.example.org/rushlight'],
    ['DATABASE_URL', 'mysql://localhost/x'],
    ['AUTH_SECRET', 'short'],
    ['TRANSCODES', '0'],
  ])('refuses %s=%s and names it', (name, value) => {
    expect(() => readConfig({ DATA_DIR, [name]: value })).toThrow(ConfigError);
    expect(() => readConfig({ DATA_DIR, [name]: value })).toThrow(name);
  });

  it('keeps the secret it makes, readable by its owner only', () => {
    const first = readConfig({ DATA_DIR }).authSecret;
    expect(first).toMatch(/^[0-9a-f]{64}$/);
    expect(readConfig({ DATA_DIR }).authSecret).toBe(first);
    expect(statSync(join(DATA_DIR, 'auth.secret')).mode & 0o077).toBe(0);
    expect(readFileSync(join(DATA_DIR, 'auth.secret'), 'utf8')).toBe(first);
  });
});
