import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import type { StoreLoad } from '../../db/read-load.ts';
import { inSeconds, type Instant } from '../../shared/base/instant.ts';
import type { App } from './app.ts';

/** Where every part of the process counts. */
export const makeRegistry = (): Registry => new Registry();
export type { Registry };

/**
 * What is counted and measured, in the text form that Prometheus reads, under /metrics. The table in DEVELOPERS.md names each
 * of them, and a test holds the two together. Every label has a closed list of values.
 */
export interface Metrics {
  readonly registry: Registry;
  readonly steps: Counter<'kind' | 'outcome'>;
  readonly stepSeconds: Histogram<'kind'>;
  readonly frames: Counter<'frame'>;
  readonly merged: Counter;
  readonly fellBehind: Counter;
  readonly alarmSteps: Counter;
  readonly alarmSeconds: Histogram;
  readonly alarmChanges: Counter<'what'>;
  readonly deliveries: Counter<'channel' | 'outcome'>;
  readonly databaseRetries: Counter<'reason'>;
  readonly databaseLost: Counter;
}

export interface Gauges {
  /** where counters of other parts are already; without it, a new one */
  readonly registry?: Registry;
  /** everything that waits in the database; fails where that can't be reached */
  readonly store: () => Promise<StoreLoad & { readonly pending: number }>;
  readonly live: () => { readonly clients: number; readonly rooms: number; readonly members: number };
  readonly connections: () => { readonly used: number; readonly idle: number; readonly waiting: number };
  readonly now: () => Instant;
}

const STEPS = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5];

export function makeMetrics(gauges: Gauges): Metrics {
  const registry = gauges.registry ?? new Registry();
  collectDefaultMetrics({ register: registry, prefix: 'holdoff_' });
  const registers = [registry];
  const gauge: MakeGauge = (name, help, collect, labelNames = []) =>
    void new Gauge({
      name: `holdoff_${name}`,
      help,
      labelNames: [...labelNames],
      registers,
      async collect() {
        const readings = await collect();
        this.reset();
        for (const { value, labels } of readings) this.set(labels ?? {}, value);
        if (readings.length === 0) this.remove(); // not known, which isn't 0
      },
    });
  watchStore(gauge, gauges);
  watchProcess(gauge, gauges);
  return { registry, ...followCounters(registers), ...liveCounters(registers), ...otherCounters(registers) };
}

interface Reading {
  readonly value: number;
  readonly labels?: Readonly<Record<string, string>>;
}

type MakeGauge = (
  name: string,
  help: string,
  collect: () => readonly Reading[] | Promise<readonly Reading[]>,
  labelNames?: readonly string[],
) => void;

/** How long one look at the database answers for all gauges of a scrape. */
const LOOK_MS = 1_000;

/** Queues in the database. Where it is away they are left out, and `holdoff_database_up` is 0. */
function watchStore(gauge: MakeGauge, { store, now }: Gauges): void {
  let looked: { readonly at: number; readonly load: ReturnType<Gauges['store']> } | null = null;
  const look = async () => {
    if (!looked || performance.now() - looked.at > LOOK_MS) looked = { at: performance.now(), load: store() };
    return looked.load.catch(() => null);
  };
  type Load = NonNullable<Awaited<ReturnType<typeof look>>>;
  const age = (since: Instant | null) => (since === null ? 0 : Math.max(0, inSeconds(now() - since)));
  const of = (name: string, help: string, read: (load: Load) => number | null) =>
    gauge(name, help, async () => {
      const load = await look();
      const value = load && read(load);
      return value === null ? [] : [{ value }];
    });
  const by = (name: string, help: string, label: string, read: (load: Load) => [string, number][]) =>
    gauge(
      name,
      help,
      async () => {
        const load = await look();
        return load ? read(load).map(([word, value]) => ({ value, labels: { [label]: word } })) : [];
      },
      [label],
    );
  gauge('database_up', '1: the database answers.', async () => [{ value: (await look()) ? 1 : 0 }]);
  of('inference_pending', 'Subjects and work items that wait for inference.', ({ pending }) => pending);
  by('inference_work_items', 'Work items that wait, by the kind of subject.', 'kind', ({ work }) =>
    KINDS.map((kind) => [kind, work.find((one) => one.kind === kind)?.count ?? 0]),
  );
  by('inference_oldest_work_seconds', 'Age of the oldest of them.', 'kind', ({ work }) =>
    KINDS.map((kind) => [kind, age(work.find((one) => one.kind === kind)?.oldest ?? null)]),
  );
  of('inference_refolds', 'Re-inferences under way, each of one subject.', ({ refolds }) => refolds.count);
  of('inference_oldest_refold_seconds', 'Age of the oldest of them.', ({ refolds }) => age(refolds.oldest));
  of('inference_stopped_subjects', 'Subjects on which inference has stopped.', ({ stopped }) => stopped);
  of('alarm_items', 'Changes that wait for a decision on alarms.', ({ alarmWork }) => alarmWork.count);
  of('alarm_oldest_item_seconds', 'Age of the oldest of them.', ({ alarmWork }) => age(alarmWork.oldest));
  by('notices_due', 'Messages that are due and not sent, by kind of channel.', 'channel', ({ deliveries }) =>
    CHANNELS.map((kind) => [kind, deliveries.find(({ channel }) => channel === kind)?.count ?? 0]),
  );
  by('notices_oldest_due_seconds', 'How long the longest due waits.', 'channel', ({ deliveries }) =>
    CHANNELS.map((kind) => [kind, age(deliveries.find(({ channel }) => channel === kind)?.oldest ?? null)]),
  );
  of('escalations_due', 'Escalations that are due to be decided.', ({ escalations }) => escalations.count);
  of('escalations_oldest_due_seconds', 'How long the longest due waits.', ({ escalations }) =>
    age(escalations.oldest),
  );
  of(
    'rollup_marks',
    'Stretches of points that wait to be rolled up.',
    ({ rollupMarks }) => rollupMarks.count,
  );
  of('rollup_oldest_mark_seconds', 'How long the oldest of them is over.', ({ rollupMarks }) =>
    age(rollupMarks.oldest),
  );
  of('watch_mark_age_seconds', 'Age of the newest watch mark of any ingest.', ({ watched }) =>
    watched === null ? null : age(watched),
  );
}

const KINDS = ['unit', 'panel', 'space', 'gateway', 'site'] as const;
const CHANNELS = ['e-mail', 'web-push', 'webhook', 'short-message', 'voice'] as const;

/** What this process has in hand. */
function watchProcess(gauge: MakeGauge, { live, connections }: Gauges): void {
  gauge('live_clients', 'Pages on the live socket.', () => [{ value: live().clients }]);
  gauge('live_rooms', 'Rooms with somebody in them.', () => [{ value: live().rooms }]);
  gauge('live_members', 'Pages in rooms, each counted in each.', () => [{ value: live().members }]);
  gauge(
    'database_connections',
    'Connections of this process, by what they do; `waiting`: callers without one.',
    () => Object.entries(connections()).map(([state, value]) => ({ value, labels: { state } })),
    ['state'],
  );
}

const followCounters = (registers: Registry[]) => ({
  steps: new Counter({
    name: 'holdoff_inference_steps_total',
    help: 'Steps of inference, by kind of subject and outcome.',
    labelNames: ['kind', 'outcome'],
    registers,
  }),
  stepSeconds: new Histogram({
    name: 'holdoff_inference_step_seconds',
    help: 'How long a step takes, without what is asked once for all of its transaction.',
    labelNames: ['kind'],
    buckets: STEPS,
    registers,
  }),
});

const liveCounters = (registers: Registry[]) => ({
  frames: new Counter({
    name: 'holdoff_live_frames_total',
    help: 'Frames sent to pages, by their name.',
    labelNames: ['frame'],
    registers,
  }),
  merged: new Counter({
    name: 'holdoff_live_changes_merged_total',
    help: 'Changes that went into a frame which had not been sent yet.',
    registers,
  }),
  fellBehind: new Counter({
    name: 'holdoff_live_fallen_behind_total',
    help: 'Times that a page had to be told to fetch everything again.',
    registers,
  }),
});

const otherCounters = (registers: Registry[]) => ({
  alarmSteps: new Counter({
    name: 'holdoff_alarm_decisions_total',
    help: 'Decisions on a site’s alarms.',
    registers,
  }),
  alarmSeconds: new Histogram({
    name: 'holdoff_alarm_decision_seconds',
    help: 'How long a decision takes, its transaction included.',
    buckets: STEPS,
    registers,
  }),
  alarmChanges: new Counter({
    name: 'holdoff_alarm_changes_total',
    help: 'Lines written in alarm journals, by what happened.',
    labelNames: ['what'],
    registers,
  }),
  deliveries: new Counter({
    name: 'holdoff_notice_deliveries_total',
    help: 'Attempts to hand a message over, by kind of channel and what came of them.',
    labelNames: ['channel', 'outcome'],
    registers,
  }),
  databaseRetries: new Counter({
    name: 'holdoff_database_retries_total',
    help: 'Transactions of the server that were tried again, by reason.',
    labelNames: ['reason'],
    registers,
  }),
  databaseLost: new Counter({
    name: 'holdoff_database_connections_lost_total',
    help: 'Idle connections of the server that broke.',
    registers,
  }),
});

export function metricsRoutes(app: App, { registry }: Metrics): void {
  app.get('/metrics', { schema: { hide: true }, config: { action: 'read-metrics' } }, async (_, reply) =>
    reply
      .type(registry.contentType)
      .serializer((text: string) => text)
      .send(await registry.metrics()),
  );
}
