import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import swagger from '@fastify/swagger';
import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import Fastify, {
  LogController,
  type FastifyBaseLogger,
  type FastifyInstance,
  type RawServerDefault,
} from 'fastify';
import type { IncomingMessage, ServerResponse } from 'node:http';
import { isLoopback } from '../settings.ts';
import type { Replays } from '../replay/replays.ts';
import type { Service } from '../service.ts';
import { admit, SAYS } from './access.ts';
import { coolingRoutes } from './cooling-routes.ts';
import { answerErrors } from './errors.ts';
import { eventRoutes } from './event-routes.ts';
import { noteRoutes } from './known-routes.ts';
import { metricsRoutes, type Metrics } from './metrics.ts';
import { pageRoutes } from './page-routes.ts';
import { replayRoutes } from './replay-routes.ts';
import { problemOf } from './refusal.ts';
import { sampleRoutes } from './sample-routes.ts';
import { serviceRoutes } from './service-routes.ts';
import { siteRoutes } from './site-routes.ts';
import { statusRoutes } from './status-routes.ts';

export type App = FastifyInstance<
  RawServerDefault,
  IncomingMessage,
  ServerResponse,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>;

export interface AppOptions {
  readonly service: Service;
  readonly replays: Replays;
  readonly metrics: Metrics;
  readonly logger: FastifyBaseLogger;
  /** where the built page lies; null: none is served */
  readonly pageFolder: string | null;
}

/** A site's document may be large; nothing else is. */
const BODY_BYTES = 4 * 1024 * 1024;
const ASKS_A_MINUTE = 1200;

/** The HTTP side of the server: schemas in, problem documents out, everything bounded (contract section 5). */
export async function makeApp({ service, replays, metrics, logger, pageFolder }: AppOptions): Promise<App> {
  const app = Fastify({
    loggerInstance: logger,
    bodyLimit: BODY_BYTES,
    logController: new LogController({ disableRequestLogging: true }),
    requestTimeout: 60_000,
    routerOptions: { maxParamLength: 200 },
    ajv: { customOptions: { removeAdditional: false, coerceTypes: true, allErrors: true } },
  }).withTypeProvider<TypeBoxTypeProvider>();
  app.removeContentTypeParser('text/plain'); // JSON alone is understood
  app.setSerializerCompiler(() => (answer) => JSON.stringify(answer));
  const routes = noteRoutes(app);
  answerErrors(app as unknown as FastifyInstance);
  await app.register(helmet, {
    contentSecurityPolicy: { directives: POLICY, useDefaults: false },
    hsts: false,
  });
  await app.register(rateLimit, {
    max: ASKS_A_MINUTE,
    timeWindow: '1 minute',
    allowList: (request) => isLoopback(request.ip),
  });
  await app.register(swagger, { openapi: OPENAPI });
  guard(app, service);
  await app.register(
    async (scope) => {
      const api = scope.withTypeProvider<TypeBoxTypeProvider>();
      serviceRoutes(api, service);
      siteRoutes(api, service);
      statusRoutes(api, service);
      coolingRoutes(api, service);
      eventRoutes(api, service);
      sampleRoutes(api, service);
      replayRoutes(api, replays);
      api.get('/openapi.json', { schema: { hide: true } }, () => app.swagger());
    },
    { prefix: '/api' },
  );
  metricsRoutes(app, metrics);
  await pageRoutes(app, pageFolder, routes);
  return app;
}

/** The page is files of this server: nothing inline, nothing from elsewhere. */
const POLICY = {
  'default-src': ["'self'"],
  'connect-src': ["'self'", 'ws:', 'wss:'],
  'img-src': ["'self'", 'data:'],
  'style-src': ["'self'"],
  'script-src': ["'self'"],
  'object-src': ["'none'"],
  'base-uri': ["'none'"],
  'form-action': ["'self'"],
  'frame-ancestors': ["'none'"],
};

const OPENAPI = {
  openapi: '3.1.0' as const,
  info: {
    title: 'Holdoff',
    version: '0.1.0',
    description: 'What the protection controls of wall-hung air conditioners did, and why.',
  },
  components: { securitySchemes: { token: { type: 'http' as const, scheme: 'bearer' } } },
};

/** Open without credentials: is it alive, can it work. */
const OPEN = new Set(['/api/health', '/api/ready']);

function guard(app: App, service: Service): void {
  app.addHook('onRequest', (request, reply, next) => {
    const path = request.url.split('?')[0]!;
    if (!isGuarded(path) || (path === '/metrics' && isLoopback(request.ip))) return next();
    const { authorization } = request.headers;
    const admission = admit({ token: service.token }, { authorization, address: request.ip });
    if (admission === 'admitted') return next();
    const problem = problemOf('not-signed-in', SAYS[admission]);
    void reply
      .code(problem.status)
      .header('www-authenticate', 'Bearer')
      .type('application/problem+json')
      .send(problem);
  });
}

const isGuarded = (path: string): boolean =>
  (path.startsWith('/api/') && !OPEN.has(path)) || path === '/metrics';
