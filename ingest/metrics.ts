import { Counter, Gauge, Histogram, type Registry } from 'prom-client';
import type { Observation, Observe } from './observation.ts';

/** Counts what ingest tells, in a registry that the server may serve (`/metrics`). */
export function countObservations(registry: Registry): Observe {
  const registers = [registry];
  const counter = (name: string, help: string, labelNames: string[] = []) =>
    new Counter({ name: `holdoff_ingest_${name}_total`, help, labelNames, registers });
  const messages = counter('messages', 'Messages whose samples are committed.');
  const samples = counter('samples', 'Samples in committed messages.');
  const changed = counter('rows_changed', 'Rows of samples that were new or changed.');
  const setAside = counter('set_aside', 'Entries set aside, by reason.', ['reason']);
  const delayed = counter('commits_delayed', 'Commits that failed and were tried again.');
  const lost = counter('broker_connections_lost', 'Connections to the broker that ended.');
  const rebirths = counter('rebirths_asked', 'Rebirths asked of Sparkplug edge nodes, by why.', ['why']);
  const held = counter('held_back', 'Times that the broker was held back at the high-water mark.');
  const seconds = new Histogram({
    name: 'holdoff_ingest_commit_seconds',
    help: 'From the start of a batch to its commit.',
    buckets: [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5],
    registers,
  });
  const oldest = new Gauge({
    name: 'holdoff_ingest_oldest_seconds',
    help: 'Age of the oldest message of the last batch when it was committed.',
    registers,
  });
  return (observation: Observation) => {
    switch (observation.kind) {
      case 'committed':
        messages.inc(observation.messages);
        samples.inc(observation.samples);
        changed.inc(observation.changed);
        seconds.observe(observation.tookMs / 1_000);
        oldest.set(observation.oldestMs / 1_000);
        return;
      case 'set-aside':
        return setAside.inc({ reason: observation.reason }, observation.entries);
      case 'commit-delayed':
        return delayed.inc();
      case 'broker-lost':
        return lost.inc();
      case 'rebirth-asked':
        return rebirths.inc({ why: observation.why });
      case 'held-back':
        return held.inc();
    }
  };
}
