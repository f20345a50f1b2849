import type { Duplex } from 'node:stream';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import {
  gatewayTopics,
  mayHear,
  mayPublish,
  maySubscribe,
  type GatewayTopics,
  type NamedSource,
} from '../../shared/telemetry/gateway-topics.ts';
import type { Catalogue } from '../catalogue.ts';
import type { Listening } from '../listening.ts';
import { Admission, type AdmissionOptions, type Given, type Principal } from './admission.ts';
import { entranceOf } from './entrance.ts';
import type { RefusalBook } from './refusal-book.ts';

/**
 * The embedded broker's guard: who is let in, and to which topics. MQTT 3.1.1 has no way to tell a client that a message of
 * its was refused but to end the connection ([MQTT-3.3.5-2]), which would stop its other points for one wrong topic: so
 * it is acknowledged, goes nowhere, and is told of in the log, the counters and on the gateway's page.
 */
export interface GuardOptions extends AdmissionOptions {
  readonly root: string;
  readonly listening: Listening;
  readonly book: RefusalBook;
  /** how often it is looked whether those who are in may stay */
  readonly lookMs?: number;
}

/** A client of the broker, as far as the guard looks at one. */
export interface Guest {
  /** what it calls itself; null: it hasn't said so yet */
  readonly id: string | null;
  readonly conn: Duplex;
  close(): void;
}

/** Why somebody isn't let in, and CONNACK's return code for it. */
export interface NoEntry {
  readonly says: string;
  readonly returnCode: number;
}

const LOOK_MS = 2_000;
/** CONNACK's return codes (MQTT 3.1.1 section 3.2.2.3). */
const NOT_AVAILABLE = 3;
const BAD_USER_OR_PASSWORD = 4;
const NOT_AUTHORISED = 5;

export class Guard {
  readonly admission: Admission;
  readonly #options: GuardOptions;
  readonly #inside = new Set<Guest>();
  /** kept as long as the client is: its last will comes when it has left */
  readonly #principals = new WeakMap<Guest, Principal>();
  readonly #topics = new Map<string, GatewayTopics>();
  readonly #timer: NodeJS.Timeout;
  #of: Catalogue | null = null;
  #looking: Promise<void> = Promise.resolve();

  constructor(options: GuardOptions) {
    this.#options = options;
    this.admission = new Admission(options);
    this.#timer = setInterval(() => {
      this.#looking = this.#looking.then(() => this.#lookWhoMayStay()).catch(() => {});
    }, options.lookMs ?? LOOK_MS);
    this.#timer.unref();
  }

  /** null: let in. Who can't be looked up is refused for now, and not told of: it isn't the gateway's fault. */
  letIn(client: Guest, given: Given): Promise<NoEntry | null> {
    return this.#letIn(client, given).catch(() => ({
      says: 'the database can’t be asked',
      returnCode: NOT_AVAILABLE,
    }));
  }

  /** May the client publish there, by the configuration as it was last read. The broker's own messages have no client. */
  mayPublish(client: Guest | null, topic: string): boolean {
    if (client === null) return true;
    const principal = this.#principals.get(client);
    if (!principal) return false;
    return principal.kind === 'machine' || mayPublish(this.#topicsOf(principal), topic);
  }

  maySubscribe(client: Guest, filter: string): boolean {
    const principal = this.#principals.get(client);
    if (!principal) return false;
    return principal.kind === 'machine' || maySubscribe(this.#topicsOf(principal), filter);
  }

  mayHear(client: Guest, topic: string): boolean {
    const principal = this.#principals.get(client);
    if (!principal) return false;
    return principal.kind === 'machine' || mayHear(this.#topicsOf(principal), topic);
  }

  refuse(client: Guest, why: RefusalWhy, detail: string): void {
    const principal = this.#principals.get(client);
    const username = principal?.kind === 'gateway' ? principal.username : '';
    const { address } = entranceOf(client.conn);
    this.#options.book.note({ why, username, address, client: client.id ?? '', detail });
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await this.#looking;
  }

  async #letIn(client: Guest, given: Given): Promise<NoEntry | null> {
    const entrance = entranceOf(client.conn);
    const admitted = await this.admission.ask(entrance, given);
    const refusal = admitted.ok && this.#isAnothers(client, admitted.principal) ? TAKEN : admitted;
    if (refusal.ok) {
      this.#principals.set(client, refusal.principal);
      this.#inside.add(client);
      client.conn.once('close', () => this.#inside.delete(client));
      return null;
    }
    const { why, detail } = refusal;
    this.#options.book.note({
      why,
      username: given.username ?? '',
      address: entrance.address,
      client: client.id ?? '',
      detail,
    });
    const code = why === 'unknown-user' || why === 'wrong-password' ? BAD_USER_OR_PASSWORD : NOT_AUTHORISED;
    return { says: why, returnCode: code };
  }

  /** Whoever takes the client id of somebody who is in throws them out: only to be done to oneself. */
  #isAnothers(client: Guest, principal: Principal): boolean {
    return [...this.#inside].some(
      (other) => other.id === client.id && whose(this.#principals.get(other)!) !== whose(principal),
    );
  }

  /** Worked out once for each gateway and reading of the configuration. */
  #topicsOf({ site, gateway }: Extract<Principal, { kind: 'gateway' }>): GatewayTopics {
    const { root, listening } = this.#options;
    if (this.#of !== listening.catalogue) this.#topics.clear();
    this.#of = listening.catalogue;
    const key = `${site}/${gateway}`;
    let topics = this.#topics.get(key);
    if (!topics) this.#topics.set(key, (topics = gatewayTopics({ root, site, gateway }, namedIn(this.#of))));
    return topics;
  }

  /** A credential that was revoked, or is over, ends what was opened with it. */
  async #lookWhoMayStay(): Promise<void> {
    const gateways = [...this.#inside].flatMap((client) => {
      const principal = this.#principals.get(client)!;
      return principal.kind === 'gateway' ? [{ client, credential: principal.credential }] : [];
    });
    if (gateways.length === 0) return;
    const ids = [...new Set(gateways.map(({ credential }) => credential))];
    const fallen = await this.admission.fallen(ids);
    for (const { client, credential } of gateways) {
      if (!fallen.has(credential)) continue;
      this.refuse(client, 'revoked', 'it was connected; its connection was ended');
      client.close();
    }
  }
}

const TAKEN = { ok: false, why: 'client-id-taken', detail: '' } as const;
const whose = (principal: Principal): string =>
  principal.kind === 'machine' ? '' : `${principal.site}/${principal.gateway}`;

const namedOf = new WeakMap<Catalogue, NamedSource[]>();

function namedIn(catalogue: Catalogue): NamedSource[] {
  let named = namedOf.get(catalogue);
  if (!named) {
    named = [...catalogue.sites.values()].flatMap(({ points }) =>
      [...points.values()].flatMap(({ site, gateway, source, sparkplug, inForce }) =>
        inForce && (source || sparkplug !== null)
          ? [{ site, gateway: gateway.id, topic: source?.topic ?? null, sparkplug }]
          : [],
      ),
    );
    namedOf.set(catalogue, named);
  }
  return named;
}
