import { randomBytes } from 'node:crypto';
import type { Logger } from 'pino';
import { NOTICES } from '../db/escalations.ts';
import { COMMITTED, INFERRED, listen } from '../db/follow-listen.ts';
import { addWorkForOutdated, reviveStopped } from '../db/follow-states.ts';
import { openDatabase, type Database } from '../db/pool.ts';
import { FOLDS } from '../shared/inference/folds.ts';
import type { AddressInfo } from 'node:net';
import { makeAccounts, type Accounts } from './accounts/accounts.ts';
import { keepHouse } from './accounts/housekeeping.ts';
import { makeProvider } from './accounts/provider.ts';
import { FOLLOW_DEFAULTS, startFollower, type Follower } from './follow/follower.ts';
import { startDecider, type Decider } from './alarms/decider.ts';
import type { Demonstration } from './demonstration.ts';
import { makeApp } from './http/app.ts';
import { closeApp } from './http/close-app.ts';
import { makeMetrics, type Metrics, type Registry } from './http/metrics.ts';
import { startLive, type Live } from './live/live.ts';
import { Rooms } from './live/rooms.ts';
import { failureOf, hearDatabase, hearDecider, hearFollower, ofPart } from './observe.ts';
import { readStore, watchReadiness } from './readiness.ts';
import { readRootFacts } from './notify/read-facts.ts';
import { readNotices, startNotices } from './notify/start-notices.ts';
import { NO_NOTICES, type NotifySettings } from './notify/settings.ts';
import type { Notifier } from './notify/notifier.ts';
import { readDrillFacts } from './proof/drill.ts';
import { startProver, type Prover } from './proof/prover.ts';
import { makeReplays } from './replay/replays.ts';
import type { BrokerPlace, Service } from './service.ts';
import type { ProviderSettings } from './settings.ts';
import type { RecordSettings } from './retention/settings.ts';
import { startKeepers } from './retention/start-keepers.ts';
import { startWatching } from './watcher/start-watching.ts';
import type { WatcherSettings } from './watcher/settings.ts';

/** The server by itself: follows, answers, tells. Its database must be there and migrated. */
export interface ServerOptions {
  readonly databaseUrl: string;
  readonly databaseKind: Service['databaseKind'];
  readonly host: string;
  readonly port: number;
  readonly token: string | null;
  /** left out: people sign in here alone */
  readonly provider?: ProviderSettings | null;
  readonly pageFolder: string | null;
  readonly parts: Service['parts'];
  /** as gateways reach it; left out: on this machine alone */
  readonly broker?: BrokerPlace;
  readonly logger: Logger;
  readonly version: string;
  readonly workers?: number;
  /** what notices are sent with; without it, webhooks alone */
  readonly notify?: NotifySettings;
  /** how long the record is kept, and how; left out: all of it, in rows */
  readonly record?: RecordSettings;
  /** who is told when the server itself fails, and the folder where that is remembered; left out: nobody */
  readonly watcher?: { readonly settings: WatcherSettings; readonly folder: string } | null;
  /** the first words of telemetry’s topics; left out: as ingest has them by itself */
  readonly telemetryRoot?: string;
  /** under which stack lights are told, so that no point listens there */
  readonly sounderRoot?: string | null;
  /** the simulated buildings, where this process tells them */
  readonly demonstration?: Demonstration;
  /** Unix microseconds; left out: this machine's clock */
  readonly clock?: () => number;
  /** counters beside the server's own */
  readonly registry?: Registry;
}

export interface RunningServer {
  readonly url: string;
  readonly port: number;
  readonly database: Database;
  stop(): Promise<void>;
}

const BROKER_HERE: BrokerPlace = {
  kind: 'embedded',
  host: '127.0.0.1',
  port: 1883,
  isTls: false,
  root: 'holdoff',
};

const CONNECTIONS = 12;
const STATEMENT_TIMEOUT_MS = 30_000;
const CONNECT_TIMEOUT_MS = 10_000;

/** Unix microseconds, as fine as this machine's clock gives them. */
const machineClock = (): number => Math.round((performance.timeOrigin + performance.now()) * 1000);

const clockOf = ({ clock }: ServerOptions): (() => number) => clock ?? machineClock;

export async function startServer(options: ServerOptions): Promise<RunningServer> {
  const { logger, pageFolder } = options;
  let live: Live | null = null;
  const metrics = measure(
    options,
    () => database,
    () => follower,
    () => live,
  );
  const database = openStore(options, metrics);
  await takeUpWork(database);
  const follower = startFollowing(options, database, metrics);
  const accounts = makeAccounts({ database, token: options.token, now: clockOf(options) });
  const house = startHouse(accounts, logger);
  const keepers = startKeepers({ ...options, database, setups: follower.setups, now: clockOf(options) });
  const decider = startDeciding(options, database, follower, metrics);
  const notices = await readNotices(database, options.notify ?? NO_NOTICES);
  const service = serviceOf(
    options,
    { database, follower, accounts, notices },
    (room) => rooms.revisionOf(room),
    () => {
      for (const one of [decider, live]) one?.nudge();
    },
    () => prover.nudge(),
  );
  const rooms = new Rooms(service);
  const readiness = watchReadiness(service);
  const provider = options.provider ? makeProvider(options.provider) : null;
  const replays = makeReplays(service, failureOf(logger, 'replay', 'a replay failed'));
  const app = await makeApp({
    ...{ service, provider, replays, metrics, pageFolder },
    readiness,
    logger: logger.child({ part: 'http' }),
  });
  live = goLive(options, app.server, service, rooms, metrics);
  const notifier = startNotifying(options, service, metrics);
  const prover = startProving(options, service);
  const listener = listen(options.databaseUrl, [COMMITTED, INFERRED, NOTICES], (channel) => {
    const woken = channel === NOTICES ? [notifier] : [follower, decider, live];
    for (const one of woken) one?.nudge();
  });
  const watcher = watcherOf(options, service);
  const stop = async () => {
    readiness.stop();
    await watcher?.stop();
    await closeApp(app, [live!, replays, house]);
    await listener.close();
    for (const part of [prover, notifier, follower, decider, ...keepers]) await part.stop();
    await database.close();
  };
  try {
    await app.listen({ host: options.host, port: options.port });
  } catch (error) {
    await stop();
    throw error;
  }
  return { ...placeOf(app.server.address() as AddressInfo, options), database, stop };
}

const placeOf = ({ port }: AddressInfo, { host }: ServerOptions) => ({
  url: `http://${urlHost(host)}:${port}/`,
  port,
});

/** What is measured is asked for when somebody reads it, long after all of this has started. */
const measure = (
  options: ServerOptions,
  database: () => Database,
  follower: () => Follower,
  live: () => Live | null,
): Metrics =>
  makeMetrics({
    store: () => readStore(database(), follower().setups, clockOf(options)()),
    live: () => live()?.load() ?? { clients: 0, rooms: 0, members: 0 },
    connections: () => database().load,
    now: clockOf(options),
    ...(options.registry ? { registry: options.registry } : {}),
  });

const goLive = (
  { logger }: ServerOptions,
  server: Parameters<typeof startLive>[0],
  service: Service,
  rooms: Rooms,
  metrics: Metrics,
): Live =>
  startLive(server, {
    service,
    rooms,
    failed: failureOf(logger, 'live', 'a look for changes failed; another follows'),
    sent: (frame) => metrics.frames.inc({ frame }),
    count: (what) => (what === 'merged' ? metrics.merged : metrics.fellBehind).inc(),
  });

const watcherOf = (options: ServerOptions, { setups, now, notices }: Service) =>
  options.watcher
    ? startWatching(
        options.watcher,
        { ...options, logger: ofPart(options.logger, 'watcher'), setups, now },
        notices,
      )
    : null;

const openStore = ({ databaseUrl, logger }: ServerOptions, metrics: Metrics): Database =>
  openDatabase({
    url: databaseUrl,
    name: 'holdoff-server',
    connections: CONNECTIONS,
    statementTimeoutMs: STATEMENT_TIMEOUT_MS,
    connectTimeoutMs: CONNECT_TIMEOUT_MS,
    observe: hearDatabase({ metrics, logger }),
  });

const startFollowing = ({ workers, logger }: ServerOptions, database: Database, metrics: Metrics): Follower =>
  startFollower({
    ...FOLLOW_DEFAULTS,
    workers: workers ?? FOLLOW_DEFAULTS.workers,
    database,
    folds: FOLDS,
    observe: hearFollower({ metrics, logger }),
  });

const startHouse = (accounts: Accounts, logger: Logger): ReturnType<typeof keepHouse> =>
  keepHouse(accounts, failureOf(logger, 'accounts', 'housekeeping failed; it is tried again'));

const startProving = (options: ServerOptions, { database, setups, now }: Service): Prover =>
  startProver({
    database,
    setups,
    now,
    failed: (error) => options.logger.error({ err: error }, 'looking after proofs failed; it is tried again'),
  });

const startDeciding = (
  options: ServerOptions,
  database: Database,
  { setups }: Follower,
  metrics: Metrics,
): Decider =>
  startDecider({
    database,
    setups,
    now: clockOf(options),
    observe: hearDecider({ metrics, logger: options.logger }),
  });

const startNotifying = (options: ServerOptions, service: Service, metrics: Metrics): Notifier =>
  startNotices(
    {
      database: service.database,
      settings: options.notify ?? NO_NOTICES,
      now: service.now,
      logger: ofPart(options.logger, 'notices'),
      setups: service.setups,
      readFacts: async (queries, alarm) =>
        (await readDrillFacts(queries, service, alarm)) ?? readRootFacts(queries, service, alarm),
      localUrl: `http://${urlHost(options.host)}:${options.port}/`,
      count: (observation) => {
        if (observation.kind !== 'sent') return;
        const { by, sent } = observation.delivered;
        metrics.deliveries.inc({ channel: by ?? 'gone', outcome: sent.kind });
      },
    },
    service.notices,
  );

const urlHost = (host: string): string => {
  if (host === '0.0.0.0' || host === '::') return 'localhost';
  return host.includes(':') ? `[${host}]` : host;
};

function serviceOf(
  options: ServerOptions,
  parts: Pick<Service, 'database' | 'accounts' | 'notices'> & { readonly follower: Follower },
  revisionOf: Service['revisionOf'],
  alarmsChanged: Service['alarmsChanged'],
  proofsChanged: Service['proofsChanged'],
): Service {
  return {
    ...parts,
    databaseKind: options.databaseKind,
    setups: parts.follower.setups,
    telemetryRoot: options.telemetryRoot ?? 'holdoff',
    sounderRoot: options.sounderRoot ?? null,
    version: options.version,
    now: clockOf(options),
    epoch: randomBytes(8).toString('hex'),
    revisionOf,
    alarmsChanged,
    proofsChanged,
    parts: options.parts,
    broker: options.broker ?? BROKER_HERE,
    demonstration: options.demonstration ?? null,
  };
}

/** What other code has left, or a failed fold, is taken up again. */
async function takeUpWork(database: Database): Promise<void> {
  await reviveStopped(database);
  for (const [kind, fold] of Object.entries(FOLDS)) await addWorkForOutdated(database, kind, fold.version);
}
