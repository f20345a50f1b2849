import { dropLease, giveUpLease, sayOnline, takeLease, type Lease } from '../../db/leases.ts';
import type { Database, Queries } from '../../db/pool.ts';
import type { Observe } from '../observation.ts';

/**
 * Of several ingests one is the host application: sequence numbers can only be checked by who hears all messages of an edge
 * node. Whoever holds the lease in the database is; when it dies another takes over. While the database is away it stays who
 * it was, for nobody else can take the lease either.
 */
export interface HostLeaseOptions {
  readonly database: Database;
  readonly hostId: string;
  /** the same for a replacement: it goes on at once */
  readonly holder: string;
  readonly observe: Observe;
}

/** A few renewals may be missed before the lease is over. */
const RENEW_MS = 2_000;

export class HostLease {
  readonly name: string;
  readonly #options: HostLeaseOptions;
  readonly #lease: Lease;
  #told: (isMine: boolean) => void = () => {};
  #isMine = false;
  #renewing: NodeJS.Timeout | null = null;
  /** what is asked of the database, one after the other */
  #asked: Promise<void> = Promise.resolve();

  constructor(options: HostLeaseOptions) {
    this.#options = options;
    this.name = `sparkplug-host/${options.hostId}`;
    this.#lease = { name: this.name, holder: options.holder };
  }

  get isMine(): boolean {
    return this.#isMine;
  }

  /** Tries to have it from now on, and tells whenever it is gained or lost. */
  want(told: (isMine: boolean) => void): void {
    this.#told = told;
    if (this.#renewing) return;
    this.#renewing = setInterval(() => void this.#renew(), RENEW_MS);
    void this.#renew();
  }

  sayOnline(isOnline: boolean): Promise<void> {
    return this.#ask((queries) => sayOnline(queries, this.#lease, isOnline));
  }

  /** `forGood`: there is nothing left to be host of; else another is to take over at once. */
  async release(forGood: boolean): Promise<void> {
    if (this.#renewing) clearInterval(this.#renewing);
    this.#renewing = null;
    if (this.#isMine) await this.#ask((queries) => (forGood ? dropLease : giveUpLease)(queries, this.#lease));
    this.#isMine = false;
  }

  #renew(): Promise<void> {
    return this.#ask(async (queries) => {
      const isMine = await takeLease(queries, this.#lease);
      if (this.#renewing === null || isMine === this.#isMine) return;
      this.#isMine = isMine;
      this.#options.observe({ kind: 'host-lease', isMine });
      this.#told(isMine);
    });
  }

  /** A lost connection is found by whoever commits: here the next renewal follows. */
  #ask(question: (queries: Queries) => Promise<void>): Promise<void> {
    this.#asked = this.#asked.then(() => question(this.#options.database)).catch(() => {});
    return this.#asked;
  }
}
