import { randomBytes } from 'node:crypto';
import type { Logger } from 'pino';
import { NOTICES } from '../db/escalations.ts';
import { COMMITTED, INFERRED, listen } from '../db/follow-listen.ts';
import { addWorkForOutdated, reviveStopped } from '../db/follow-states.ts';
import { readBacklog, readClaimedClocks } from '../db/follow-work.ts';
import { openDatabase, type Database } from '../db/pool.ts';
import { FOLDS } from '../shared/inference/folds.ts';
import type { AddressInfo } from 'node:net';
import { makeAccounts, type Accounts } from './accounts/accounts.ts';
import { keepHouse } from './accounts/housekeeping.ts';
import { makeProvider } from './accounts/provider.ts';
import { FOLLOW_DEFAULTS, startFollower, type FollowObservation, type Follower } from './follow/follower.ts';
import { startDecider, type DecideObservation, type Decider } from './alarms/decider.ts';
import { makeApp } from './http/app.ts';
import { makeMetrics, type Metrics, type Registry } from './http/metrics.ts';
import { startLive, type Live } from './live/live.ts';
import { Rooms } from './live/rooms.ts';
import { readRootFacts } from './notify/read-facts.ts';
import { readNotices, startNotices } from './notify/start-notices.ts';
import { NO_NOTICES, type NotifySettings } from './notify/settings.ts';
import type { Notifier } from './notify/notifier.ts';
import { makeReplays } from './replay/replays.ts';
import { startRollingUp } from './series/roll-up.ts';
import type { Service } from './service.ts';
import type { ProviderSettings } from './settings.ts';
import { inSnapshot } from './status/read-status.ts';
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
  readonly logger: Logger;
  readonly version: string;
  readonly workers?: number;
  /** what notices are sent with; without it, webhooks alone */
  readonly notify?: NotifySettings;
  /** who is told when the server itself fails, and the folder where that is remembered; left out: nobody */
  readonly watcher?: { readonly settings: WatcherSettings; readonly folder: string } | null;
  /** under which stack lights are told, so that no point listens there */
  readonly sounderRoot?: string | null;
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

const CONNECTIONS = 12;
const STATEMENT_TIMEOUT_MS = 30_000;
const CONNECT_TIMEOUT_MS = 10_000;

/** Unix microseconds, as fine as this machine's clock gives them. */
const machineClock = (): number => Math.round((performance.timeOrigin + performance.now()) * 1000);

const clockOf = ({ clock }: ServerOptions): (() => number) => clock ?? machineClock;

export async function startServer(options: ServerOptions): Promise<RunningServer> {
  const { logger, pageFolder } = options;
  const database = openStore(options);
  await takeUpWork(database);
  let live: Live | null = null;
  const metrics = makeMetrics({
    pending: () => readPending(database),
    clients: () => live?.clients() ?? 0,
    connections: () => database.load,
    ...(options.registry ? { registry: options.registry } : {}),
  });
  const follower = startFollowing(options, database, metrics);
  const accounts = makeAccounts({ database, token: options.token, now: clockOf(options) });
  const house = startHouse(accounts, logger);
  const rollUp = startAddingUp(options, database);
  const decider = startDeciding(options, database, follower, metrics);
  const notices = await readNotices(database, options.notify ?? NO_NOTICES);
  const service = serviceOf(
    options,
    { database, follower, accounts, notices },
    (room) => rooms.revisionOf(room),
    () => {
      decider.nudge();
      live?.nudge();
    },
  );
  const rooms = new Rooms(service);
  const provider = options.provider ? makeProvider(options.provider) : null;
  const replays = makeReplays(service, (error) => logger.error({ err: error }, 'a replay failed'));
  const app = await makeApp({ service, provider, replays, metrics, logger, pageFolder });
  live = startLive(app.server, {
    service,
    rooms,
    failed: (error) => logger.error({ err: error }, 'a look for changes failed; another follows'),
    sent: (frame) => metrics.frames.inc({ frame }),
  });
  const notifier = startNotifying(options, service, metrics);
  const listener = listen(options.databaseUrl, [COMMITTED, INFERRED, NOTICES], (channel) => {
    const woken = channel === NOTICES ? [notifier] : [follower, decider, live];
    for (const one of woken) one?.nudge();
  });
  const watcher = watcherOf(options, service);
  const stop = async () => {
    await watcher?.stop();
    for (const part of [live!, replays, house]) await part.stop();
    await app.close();
    await listener.close();
    for (const part of [notifier, follower, decider, rollUp]) await part.stop();
    await database.close();
  };
  try {
    await app.listen({ host: options.host, port: options.port });
  } catch (error) {
    await stop();
    throw error;
  }
  const { port } = app.server.address() as AddressInfo;
  return { url: `http://${urlHost(options.host)}:${port}/`, port, database, stop };
}

const watcherOf = (options: ServerOptions, { setups, now, notices }: Service) =>
  options.watcher ? startWatching(options.watcher, { ...options, setups, now }, notices) : null;

const openStore = ({ databaseUrl, logger }: ServerOptions): Database =>
  openDatabase({
    url: databaseUrl,
    name: 'holdoff-server',
    connections: CONNECTIONS,
    statementTimeoutMs: STATEMENT_TIMEOUT_MS,
    connectTimeoutMs: CONNECT_TIMEOUT_MS,
    observe: (observation) => logger.debug(observation),
  });

const startFollowing = ({ workers, logger }: ServerOptions, database: Database, metrics: Metrics): Follower =>
  startFollower({
    ...FOLLOW_DEFAULTS,
    workers: workers ?? FOLLOW_DEFAULTS.workers,
    database,
    folds: FOLDS,
    observe: (observation) => report(observation, metrics, logger),
  });

const startHouse = (accounts: Accounts, logger: Logger): ReturnType<typeof keepHouse> =>
  keepHouse(accounts, (error) => logger.error({ err: error }, 'housekeeping failed; it is tried again'));

const startAddingUp = (options: ServerOptions, database: Database): ReturnType<typeof startRollingUp> =>
  startRollingUp({
    database,
    now: clockOf(options),
    failed: (error) => options.logger.error({ err: error }, 'rolling samples up failed; it is tried again'),
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
    observe: (observation) => reportDecided(observation, metrics, options.logger),
  });

const startNotifying = (options: ServerOptions, service: Service, metrics: Metrics): Notifier =>
  startNotices(
    {
      database: service.database,
      settings: options.notify ?? NO_NOTICES,
      now: service.now,
      logger: options.logger,
      setups: service.setups,
      readFacts: (queries, alarm) => readRootFacts(queries, service, alarm),
      localUrl: `http://${urlHost(options.host)}:${options.port}/`,
      count: (observation) => {
        if (observation.kind === 'sent') metrics.deliveries.inc({ outcome: observation.delivered.sent.kind });
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
): Service {
  return {
    ...parts,
    databaseKind: options.databaseKind,
    setups: parts.follower.setups,
    sounderRoot: options.sounderRoot ?? null,
    version: options.version,
    now: clockOf(options),
    epoch: randomBytes(8).toString('hex'),
    revisionOf,
    alarmsChanged,
    parts: options.parts,
  };
}

/** What other code has left, or a failed fold, is taken up again. */
async function takeUpWork(database: Database): Promise<void> {
  await reviveStopped(database);
  for (const [kind, fold] of Object.entries(FOLDS)) await addWorkForOutdated(database, kind, fold.version);
}

const readPending = async (database: Database): Promise<number> =>
  inSnapshot(database, async (queries) => {
    const { pending } = await readBacklog(queries, await readClaimedClocks(queries), null);
    return pending;
  });

function report(observation: FollowObservation, metrics: Metrics, logger: Logger): void {
  switch (observation.kind) {
    case 'stepped': {
      const { subject, outcome, milliseconds } = observation;
      metrics.steps.inc({ kind: subject.kind, outcome: outcome.kind });
      metrics.stepSeconds.observe(milliseconds / 1000);
      if (outcome.kind === 'stopped')
        logger.error(
          { subject, reason: outcome.reason },
          `inference has stopped on ${subject.kind} ${subject.site}/${subject.device}: ${outcome.reason}`,
        );
      return;
    }
    case 'step-failed':
      return logger.error(
        { err: observation.error, subject: observation.subject },
        'a step failed; it is tried again',
      );
    case 'look-failed':
      return logger.error({ err: observation.error }, 'looking for work failed; it is tried again');
  }
}

function reportDecided(observation: DecideObservation, metrics: Metrics, logger: Logger): void {
  if (observation.kind === 'decide-failed')
    return logger.error(
      { err: observation.error, site: observation.site },
      'deciding on alarms failed; it is tried again',
    );
  metrics.alarmSteps.inc();
  for (const { what } of observation.decision?.changes ?? []) metrics.alarmChanges.inc({ what });
}
