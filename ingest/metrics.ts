import { Counter, Gauge, Histogram, Registry } from 'prom-client';
import { retryReason } from '../db/sqlstate.ts';
import type { Observation, Observe } from './observation.ts';
import type { IngestLoad } from './start.ts';

/** Where a process of ingest by itself counts. */
export const makeIngestRegistry = (): Registry => new Registry();

/**
 * Counts what ingest tells, in a registry that the server may serve (`/metrics`). Every label has a closed list of values.
 * `load`: what is in hand now; null while nothing runs.
 */
export function countObservations(registry: Registry, load: () => IngestLoad | null): Observe {
  watchLoad(registry, load);
  const counters = makeCounters(registry);
  const histograms = makeHistograms(registry);
  const gauges = makeGauges(registry);
  let certificate: Gauge | null = null; // not there where there is no such port: 0 would read as long over
  return (observation: Observation) => {
    switch (observation.kind) {
      case 'committed':
        counters.messages.inc(observation.messages);
        counters.samples.inc(observation.samples);
        counters.changed.inc(observation.changed);
        histograms.seconds.observe(observation.tookMs / 1_000);
        histograms.batch.observe(observation.messages);
        gauges.oldest.set(observation.oldestMs / 1_000);
        return;
      case 'set-aside':
        return counters.setAside.inc({ reason: observation.reason }, observation.entries);
      case 'commit-delayed':
        return counters.delayed.inc({ reason: retryReason(observation.error) ?? 'other' });
      case 'database-retried':
        return counters.retries.inc({ reason: observation.reason });
      case 'broker-connected':
      case 'listening':
        return gauges.connected.set(1);
      case 'broker-lost':
        gauges.connected.set(0);
        return counters.lost.inc();
      case 'rebirth-asked':
        return counters.rebirths.inc({ why: observation.why });
      case 'sequence-gap':
        return counters.gaps.inc();
      case 'client-refused':
        return counters.refused.inc();
      case 'acknowledgements-dropped':
        return counters.dropped.inc(observation.messages);
      case 'gateway-refused':
        return counters.gateways.inc({ why: observation.why }, observation.times);
      case 'tls-certificate':
        certificate ??= new Gauge({
          name: 'holdoff_ingest_tls_certificate_end_seconds',
          help: 'When the certificate of the broker’s TLS port ends, as Unix time.',
          registers: [registry],
        });
        return certificate.set(observation.endsAt / 1_000_000);
      case 'held-back':
        return counters.held.inc();
    }
  };
}

function makeCounters(registry: Registry) {
  const counter = <Label extends string = never>(name: string, help: string, labelNames: Label[] = []) =>
    new Counter({ name: `holdoff_ingest_${name}_total`, help, labelNames, registers: [registry] });
  return {
    messages: counter('messages', 'Messages whose samples are committed.'),
    samples: counter('samples', 'Samples in committed messages.'),
    changed: counter('rows_changed', 'Rows of samples that were new or changed.'),
    setAside: counter('set_aside', 'Entries set aside, by reason.', ['reason']),
    delayed: counter('commits_delayed', 'Commits that failed and were tried again, by reason.', ['reason']),
    retries: counter('database_retries', 'Other statements that were tried again, by reason.', ['reason']),
    lost: counter('broker_connections_lost', 'Connections to the broker that ended.'),
    dropped: counter('acknowledgements_dropped', 'Messages committed after their connection had gone.'),
    refused: counter('clients_refused', 'Clients that the embedded broker let in no further.'),
    gateways: counter('gateways_refused', 'Gateways turned away, or messages of theirs dropped, by why.', [
      'why',
    ]),
    rebirths: counter('sparkplug_rebirths_asked', 'Rebirths asked of edge nodes, by why.', ['why']),
    gaps: counter('sparkplug_sequence_gaps', 'Times that something was missing in an edge node’s order.'),
    held: counter('held_back', 'Times that the broker was held back at the bound of messages in flight.'),
  };
}

function makeHistograms(registry: Registry) {
  const histogram = (name: string, help: string, buckets: number[]) =>
    new Histogram({ name: `holdoff_ingest_${name}`, help, buckets, registers: [registry] });
  return {
    seconds: histogram(
      'commit_seconds',
      'From the start of a batch to its commit.',
      [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5],
    ),
    batch: histogram('batch_messages', 'Messages in a batch.', [1, 2, 5, 10, 50, 100, 500, 1_000, 5_000]),
  };
}

function makeGauges(registry: Registry) {
  const gauge = (name: string, help: string) =>
    new Gauge({ name: `holdoff_ingest_${name}`, help, registers: [registry] });
  return {
    oldest: gauge('oldest_seconds', 'Age of the oldest message of the last batch when it was committed.'),
    connected: gauge('broker_connected', '1: connected to the broker, or the embedded one listens.'),
  };
}

/** What is in hand when somebody asks. */
function watchLoad(registry: Registry, load: () => IngestLoad | null): void {
  const gauge = (name: string, help: string, of: (load: IngestLoad) => number | null) =>
    new Gauge({
      name: `holdoff_ingest_${name}`,
      help,
      registers: [registry],
      collect() {
        const now = load();
        const value = now && of(now);
        if (value === null) this.remove();
        else this.set(value);
      },
    });
  gauge('in_flight_messages', 'Messages received and not yet committed.', ({ messages }) => messages);
  gauge('in_flight_bytes', 'Bytes of their payloads.', ({ bytes }) => bytes);
  gauge(
    'in_flight_most_messages',
    'Messages in flight at which an external broker is held back.',
    ({ mostMessages }) => mostMessages,
  );
  gauge(
    'commit_queue_messages',
    'Of those in flight, what no batch has taken yet.',
    ({ waiting }) => waiting,
  );
  gauge(
    'database_waiting',
    'Callers of ingest that wait for a connection to the database.',
    ({ database }) => database.waiting,
  );
}
