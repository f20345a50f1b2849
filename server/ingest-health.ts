import type { Observation } from '../ingest/observation.ts';
import type { Service } from './service.ts';

/** What `GET /api/ready` says of ingest and its broker, from what ingest has told. */
export class IngestHealth {
  isEmbedded = true;
  #connected = false;
  #delayed: string | null = null;

  note(observation: Observation): void {
    switch (observation.kind) {
      case 'listening':
      case 'broker-connected':
        this.#connected = true;
        return;
      case 'broker-lost':
        this.#connected = false;
        return;
      case 'commit-delayed':
        this.#delayed = observation.error.message;
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
