import type { Service } from './service.ts';

/** What ingest tells, as far as it matters here. */
interface Told {
  readonly kind: string;
  readonly error?: Error;
}

/** What `GET /api/ready` says of ingest and its broker, from what ingest has told. */
export class IngestHealth {
  isEmbedded = true;
  #connected = false;
  #delayed: string | null = null;

  note(observation: Told): void {
    switch (observation.kind) {
      case 'listening':
      case 'broker-connected':
        this.#connected = true;
        return;
      case 'broker-lost':
        this.#connected = false;
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
    ];
  }
}
