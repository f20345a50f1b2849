import { formatInstant, instantFromMilliseconds, seconds, type Instant } from '../shared/base/instant.ts';
import type { Service } from './service.ts';

/** What ingest tells, as far as it matters here. */
interface Told {
  readonly kind: string;
  readonly error?: Error;
  readonly endsAt?: Instant;
}

/** What `GET /api/ready` says of ingest and its broker, from what ingest has told. */
export class IngestHealth {
  isEmbedded = true;
  #connected = false;
  #delayed: string | null = null;
  #certificateEnds: Instant | null = null;
  readonly #now: () => Instant;

  constructor(now: () => Instant = () => instantFromMilliseconds(Date.now())) {
    this.#now = now;
  }

  note(observation: Told): void {
    switch (observation.kind) {
      case 'listening':
      case 'broker-connected':
        this.#connected = true;
        return;
      case 'broker-lost':
        this.#connected = false;
        return;
      case 'tls-certificate':
        this.#certificateEnds = observation.endsAt ?? null;
        return;
      case 'commit-delayed':
        this.#delayed = observation.error?.message ?? 'no reason given';
        return;
      case 'committed':
        this.#delayed = null;
    }
  }

  parts(): ReturnType<Service['parts']> {
    const broker = this.isEmbedded ? 'the embedded one' : 'the one at MQTT_URL';
    return [
      { name: 'broker', ok: this.#connected, says: this.#connected ? broker : `${broker}: no connection` },
      {
        name: 'ingest',
        ok: this.#delayed === null,
        says: this.#delayed === null ? 'commits what it receives' : `can’t commit: ${this.#delayed}`,
      },
      ...this.#certificate(),
    ];
  }

  /** Of the TLS port: gateways that look at it stay away from its end on. */
  #certificate(): ReturnType<Service['parts']> {
    if (this.#certificateEnds === null) return [];
    const left = this.#certificateEnds - this.#now();
    const says = `${left > 0 ? 'ends' : 'ended'} at ${formatInstant(this.#certificateEnds)}`;
    return [{ name: 'broker-certificate', ok: left > 0, gates: false, says, isSoonWrong: left <= SOON }];
  }
}

/** Time enough to put a new one in its place. */
const SOON = seconds(14 * 86_400);
