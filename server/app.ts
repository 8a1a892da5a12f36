import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import fastifyStatic from '@fastify/static';
import swagger from '@fastify/swagger';
import swaggerUi from '@fastify/swagger-ui';
import underPressure from '@fastify/under-pressure';
import { Ajv } from 'ajv';
import Fastify from 'fastify';
import { access, guard } from './access/index.ts';
import { cards } from './cards/index.ts';
import { families } from './families/index.ts';
import { films } from './films/index.ts';
import { footage } from './footage/index.ts';
import { intake } from './intake/index.ts';
import { ledger } from './ledger/index.ts';
import { live } from './live/index.ts';
import { music } from './music/index.ts';
import { notes } from './notes/index.ts';
import { offers } from './offers/index.ts';
import { originals } from './originals/index.ts';
import { outline } from './outline/index.ts';
import { busyOptions } from './platform/busy.ts';
import { answerError, Refusal } from './platform/errors.ts';
import { health } from './platform/health.ts';
import type { App, Ground } from './platform/http.ts';
import { proxies } from './proxies/index.ts';
import { selects } from './selects/index.ts';
import { stringout } from './stringout/index.ts';
import { turnover } from './turnover/index.ts';

const WEB = fileURLToPath(new URL('../web/dist', import.meta.url));
const BODY_BYTES = 1024 * 1024;

/** A body says what it means; addresses and headers are text, of which numbers have to be made. */
const [asWritten, asText] = [new Ajv({ removeAdditional: false }), new Ajv({ removeAdditional: false, coerceTypes: 'array', useDefaults: true })];

/** The one Fastify instance, the same in production and in tests; it listens to nothing by itself. */
export async function buildApp(ground: Ground): Promise<App> {
  const { config } = ground;
  const app = Fastify({
    logger: config.logLevel === 'silent' ? false : { level: config.logLevel, redact: ['req.headers.cookie', 'req.headers.authorization'] },
    trustProxy: config.trustProxy,
    bodyLimit: BODY_BYTES,
    // Uploads take as long as the link needs.
    requestTimeout: 0,
    forceCloseConnections: true,
  }) as unknown as App;

  for (const [name, value] of Object.entries(ground)) app.decorate(name, value);
  app.decorate('ground', ground);
  app.setErrorHandler(answerError);
  app.setValidatorCompiler(({ schema, httpPart }) => (httpPart === 'body' ? asWritten : asText).compile(schema as object));

  await app.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'self'"],
        // Checksums are made in the page by WebAssembly.
        scriptSrc: ["'self'", "'wasm-unsafe-eval'"],
        mediaSrc: ["'self'", 'blob:'],
        imgSrc: ["'self'", 'data:', 'blob:'],
        workerSrc: ["'self'", 'blob:'],
        connectSrc: ["'self'", 'ws:', 'wss:'],
        styleSrc: ["'self'", "'unsafe-inline'"],
        objectSrc: ["'none'"],
        baseUri: ["'none'"],
        frameAncestors: ["'none'"],
        formAction: ["'self'"],
      },
    },
    crossOriginResourcePolicy: { policy: 'same-origin' },
    referrerPolicy: { policy: 'same-origin' },
    strictTransportSecurity: config.publicUrl?.startsWith('https:') ? { maxAge: 31_536_000 } : false,
  });
  await app.register(underPressure, busyOptions());
  await app.register(rateLimit, { global: false });
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: { title: 'Rushlight', version: '0.1.0', description: 'Errors are problem documents (RFC 9457) with a stable `code`.' },
      components: { securitySchemes: { session: { type: 'apiKey', in: 'cookie', name: 'rushlight.session_token' } } },
      security: [{ session: [] }],
    },
  });
  guard(app, { auth: ground.auth, db: ground.db, publicUrl: config.publicUrl });
  await app.register(swaggerUi, { routePrefix: '/api/docs', staticCSP: true });

  await app.register(health);
  await app.register(access);
  await app.register(films);
  await app.register(outline);
  await app.register(cards);
  await app.register(intake);
  await app.register(footage);
  await app.register(originals);
  await app.register(proxies);
  await app.register(selects);
  await app.register(families);
  await app.register(offers);
  await app.register(notes);
  await app.register(music);
  await app.register(stringout);
  await app.register(turnover);
  await app.register(ledger);
  await app.register(live);
  await servePages(app);
  return app;
}

/** The built page; any address that is not the API's is one of its rooms. */
async function servePages(app: App): Promise<void> {
  await app.register(fastifyStatic, { root: WEB, serve: false, cacheControl: false });
  const page = existsSync(WEB);
  app.get('/*', { config: { permission: 'anyone' }, schema: { hide: true } }, (request, reply) => {
    const path = request.url.split('?', 1)[0] ?? '/';
    if (!page || path.startsWith('/api/')) throw new Refusal('not-found');
    if (path.startsWith('/assets/')) return reply.header('cache-control', 'public, max-age=31536000, immutable').sendFile(path.slice(1));
    const named = /^\/[\w-]+\.(ico|svg|png|txt|webmanifest)$/.test(path);
    return reply.header('cache-control', 'no-cache').sendFile(named ? path.slice(1) : 'index.html');
  });
}
