import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import type { App } from './app.ts';

/** Where every part of the process counts. */
export const makeRegistry = (): Registry => new Registry();
export type { Registry };

/** Counters in the text form that Prometheus reads, under /metrics. */
export interface Metrics {
  readonly registry: Registry;
  readonly steps: Counter<'kind' | 'outcome'>;
  readonly stepSeconds: Histogram;
  readonly frames: Counter<'frame'>;
  readonly alarmSteps: Counter;
  readonly alarmChanges: Counter<'what'>;
  readonly deliveries: Counter<'outcome'>;
}

export interface Gauges {
  /** where counters of other parts are already; without it, a new one */
  readonly registry?: Registry;
  readonly pending: () => Promise<number>;
  readonly clients: () => number;
  readonly connections: () => { readonly used: number; readonly idle: number; readonly waiting: number };
}

export function makeMetrics(gauges: Gauges): Metrics {
  const registry = gauges.registry ?? new Registry();
  collectDefaultMetrics({ register: registry, prefix: 'holdoff_' });
  const registers = [registry];
  new Gauge({
    name: 'holdoff_inference_pending',
    help: 'Subjects and work items that wait for inference',
    registers,
    async collect() {
      this.set(await gauges.pending());
    },
  });
  new Gauge({
    name: 'holdoff_live_clients',
    help: 'Pages on the live socket',
    registers,
    collect() {
      this.set(gauges.clients());
    },
  });
  new Gauge({
    name: 'holdoff_database_connections',
    help: 'Connections of this process, by what they do',
    labelNames: ['state'],
    registers,
    collect() {
      for (const [state, count] of Object.entries(gauges.connections())) this.set({ state }, count);
    },
  });
  return {
    registry,
    steps: new Counter({
      name: 'holdoff_inference_steps_total',
      help: 'Steps of inference, by subject kind and outcome',
      labelNames: ['kind', 'outcome'],
      registers,
    }),
    stepSeconds: new Histogram({
      name: 'holdoff_inference_step_seconds',
      help: 'How long a step takes, its transaction included',
      buckets: [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5],
      registers,
    }),
    frames: new Counter({
      name: 'holdoff_live_frames_total',
      help: 'Frames sent to pages, by their name',
      labelNames: ['frame'],
      registers,
    }),
    ...alarmCounters(registers),
    deliveries: new Counter({
      name: 'holdoff_notice_deliveries_total',
      help: 'Attempts to hand a message over, by what came of them',
      labelNames: ['outcome'],
      registers,
    }),
  };
}

const alarmCounters = (registers: Registry[]): Pick<Metrics, 'alarmSteps' | 'alarmChanges'> => ({
  alarmSteps: new Counter({
    name: 'holdoff_alarm_decisions_total',
    help: 'Decisions on a site’s alarms',
    registers,
  }),
  alarmChanges: new Counter({
    name: 'holdoff_alarm_changes_total',
    help: 'Lines written in alarm journals, by what happened',
    labelNames: ['what'],
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
