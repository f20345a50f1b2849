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
import { isLoopback } from '../loopback.ts';
import type { Provider } from '../accounts/provider.ts';
import type { Readiness } from '../readiness.ts';
import type { Replays } from '../replay/replays.ts';
import type { Service } from '../service.ts';
import { guard } from './access.ts';
import { acceptRoutes } from './accept-routes.ts';
import { accountRoutes } from './account-routes.ts';
import { keepAudit } from './audit.ts';
import { auditRoutes } from './audit-routes.ts';
import { alarmRoutes } from './alarm-routes.ts';
import { channelRoutes } from './channel-routes.ts';
import { coolingRoutes } from './cooling-routes.ts';
import { demonstrationRoutes } from './demonstration-routes.ts';
import { answerErrors } from './errors.ts';
import { eventRoutes } from './event-routes.ts';
import { noteRoutes } from './known-routes.ts';
import { gatewayRoutes } from './gateway-routes.ts';
import { metricsRoutes, type Metrics } from './metrics.ts';
import { onCallRoutes } from './on-call-routes.ts';
import { ownRoutes } from './own-routes.ts';
import { pageRoutes } from './page-routes.ts';
import { peopleRoutes } from './people-routes.ts';
import { policyRoutes } from './policy-routes.ts';
import { proofRoutes } from './proof-routes.ts';
import { providerRoutes } from './provider-routes.ts';
import { reviewRoutes } from './review-routes.ts';
import { recordingRoutes } from './recording-routes.ts';
import { replayRoutes } from './replay-routes.ts';
import { reportRoutes } from './report-routes.ts';
import { feedRoute, rosterRoutes } from './roster-routes.ts';
import { sampleRoutes } from './sample-routes.ts';
import { serviceRoutes } from './service-routes.ts';
import { siteEditRoutes } from './site-edit-routes.ts';
import { siteTableRoutes } from './site-table-routes.ts';
import { siteRoutes } from './site-routes.ts';
import { staggerRoutes } from './stagger-routes.ts';
import { startingDipRoutes } from './starting-dip-routes.ts';
import { statusRoutes } from './status-routes.ts';
import { telemetryRoutes } from './telemetry-routes.ts';
import { transferRoutes } from './transfer-routes.ts';
import { visitRoutes } from './visit-routes.ts';
import { waveformRoutes } from './waveform-routes.ts';
import { wiringRoutes } from './wiring-routes.ts';
import { workRoutes } from './work-routes.ts';

export type App = FastifyInstance<
  RawServerDefault,
  IncomingMessage,
  ServerResponse,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>;

export interface AppOptions {
  readonly service: Service;
  /** null: people sign in here alone */
  readonly provider: Provider | null;
  readonly replays: Replays;
  readonly metrics: Metrics;
  readonly readiness: Readiness;
  readonly logger: FastifyBaseLogger;
  /** where the built page lies; null: none is served */
  readonly pageFolder: string | null;
}

/** A site's document may be large; nothing else is. */
const BODY_BYTES = 4 * 1024 * 1024;
const ASKS_A_MINUTE = 1200;

/** The HTTP side of the server: schemas in, problem documents out, everything bounded (contract section 5). */
export async function makeApp(options: AppOptions): Promise<App> {
  const { service, metrics, logger, pageFolder } = options;
  const { accounts } = service;
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
  keepAudit(app as unknown as FastifyInstance, accounts);
  guard(app as unknown as FastifyInstance, accounts);
  await app.register(
    async (scope) => {
      const api = scope.withTypeProvider<TypeBoxTypeProvider>();
      apiRoutes(api, options);
      const config = { action: 'read-interface' } as const;
      api.get('/openapi.json', { schema: { hide: true }, config }, () => app.swagger());
    },
    { prefix: '/api' },
  );
  metricsRoutes(app, metrics);
  feedRoute(app, service);
  await acceptRoutes(app, service);
  await pageRoutes(app, pageFolder, routes);
  return app;
}

/** Everything under `/api`. */
function apiRoutes(api: App, { service, provider, replays, readiness }: AppOptions): void {
  const { accounts } = service;
  serviceRoutes(api, service, readiness);
  siteRoutes(api, service);
  demonstrationRoutes(api, service);
  gatewayRoutes(api, service);
  siteEditRoutes(api, service);
  siteTableRoutes(api, service);
  statusRoutes(api, service);
  coolingRoutes(api, service);
  eventRoutes(api, service);
  alarmRoutes(api, service);
  workRoutes(api, service);
  sampleRoutes(api, service);
  telemetryRoutes(api, service);
  wiringRoutes(api, service);
  waveformRoutes(api, service);
  transferRoutes(api, service);
  recordingRoutes(api, service);
  startingDipRoutes(api, service);
  replayRoutes(api, replays);
  staggerRoutes(api, service);
  proofRoutes(api, service);
  reviewRoutes(api, service);
  reportRoutes(api, service);
  onCallRoutes(api, service);
  visitRoutes(api, service);
  rosterRoutes(api, service);
  policyRoutes(api, service);
  channelRoutes(api, service);
  accountRoutes(api, accounts, provider?.name ?? null);
  providerRoutes(api, accounts, provider);
  ownRoutes(api, accounts);
  peopleRoutes(api, accounts);
  auditRoutes(api, accounts);
}

/** The page is files of this server: nothing inline, nothing from elsewhere. */
const POLICY = {
  'default-src': ["'self'"],
  'connect-src': ["'self'", 'ws:', 'wss:'],
  'img-src': ["'self'", 'data:'],
  'style-src': ["'self'"],
  'script-src': ["'self'"],
  'worker-src': ["'self'"],
  'manifest-src': ["'self'"],
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
  components: {
    securitySchemes: {
      token: { type: 'http' as const, scheme: 'bearer' },
      session: { type: 'apiKey' as const, in: 'cookie' as const, name: '__Host-holdoff-session' },
    },
  },
};
