import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import type { Listening } from '../listening.ts';
import type { Observe } from '../observation.ts';
import type { SparkplugHost } from '../sparkplug/host.ts';
import type { HostLease } from '../sparkplug/lease.ts';
import { statePayload, saysOffline } from '../sparkplug/state.ts';
import { isSparkplug, stateTopic } from '../sparkplug/topic.ts';
import { BrokerLine, type Received, type Taking } from './broker-line.ts';

/**
 * The host application's own connection to an external broker: a session of its own that begins clean and ends with the
 * connection, as Sparkplug 3.0 asks (section 5.3), with a STATE that says whether we are there and a will that says when we
 * no longer are. There is one only while points name metrics, and while this ingest holds the host's lease.
 */
export interface HostLineOptions {
  readonly url: string;
  readonly clientId: string;
  /** names this host application in its STATE topic */
  readonly hostId: string;
  readonly highWater: number;
  readonly highWaterBytes: number;
  readonly lease: HostLease;
  readonly sparkplugHost: SparkplugHost;
  readonly listening: Listening;
  readonly now: () => Instant;
  readonly observe: Observe;
}

export class HostLine {
  readonly #options: HostLineOptions;
  readonly #state: string;
  #line: BrokerLine | null = null;
  #filters: readonly string[] = [];
  /** Unix ms: of the will of the present connection, and so of its birth */
  #willAt = 0;
  #isOnline = false;
  #ending = false;

  constructor(options: HostLineOptions) {
    this.#options = options;
    this.#state = stateTopic(options.hostId);
    options.listening.follow(() => void this.#listenTo(options.sparkplugHost.filters));
  }

  /** the lease under which somebody listens to edge nodes; null: no point names any */
  get leaseName(): string | null {
    return this.#filters.length > 0 ? this.#options.lease.name : null;
  }

  /** It is ours to listen to edge nodes, and we don't. */
  get isDown(): boolean {
    return this.leaseName !== null && this.#options.lease.isMine && !this.#isOnline;
  }

  async stop(): Promise<void> {
    this.#ending = true;
    await this.#close();
    await this.#options.lease.release(false);
  }

  async #close(): Promise<void> {
    const line = this.#line;
    this.#line = null;
    if (line) await this.#end(line);
  }

  /** An orderly end is told before it: the broker keeps the will to itself then. */
  async #end(line: BrokerLine): Promise<void> {
    const { sparkplugHost: host, now } = this.#options;
    line.close();
    host.lost();
    if (line.isConnected)
      await line.publish(this.#state, statePayload(false, unixMs(now())), { qos: 1, retain: true });
    this.#is(false);
    await line.end();
  }

  async #listenTo(wanted: readonly string[]): Promise<void> {
    const { sparkplugHost: host } = this.#options;
    const added = wanted.filter((filter) => !this.#filters.includes(filter));
    const gone = this.#filters.filter((filter) => !wanted.includes(filter));
    this.#filters = wanted;
    if (this.#ending) return;
    if (wanted.length === 0) {
      await this.#close();
      return this.#options.lease.release(true);
    }
    this.#options.lease.want((isMine) => void this.#hold(isMine));
    if (this.#line?.isConnected) {
      if (gone.length > 0) this.#line.unsubscribe(gone);
      // births are asked for once their answers are listened to
      if (added.length > 0 && (await this.#line.subscribe(added))) host.begin();
    }
  }

  /** Another has become host, or we have. */
  async #hold(isMine: boolean): Promise<void> {
    if (!isMine) return this.#close();
    if (!this.#ending && this.#filters.length > 0) this.#line ??= this.#open();
  }

  #open(): BrokerLine {
    const { url, clientId, highWater, highWaterBytes, observe, sparkplugHost: host, now } = this.#options;
    const line: BrokerLine = new BrokerLine({
      ...{ url, clientId, highWater, highWaterBytes, observe, isDurable: false },
      will: () => {
        this.#willAt = unixMs(now());
        return { topic: this.#state, payload: statePayload(false, this.#willAt), qos: 1, retain: true };
      },
      connected: () => void this.#connected(line),
      lost: () => {
        if (line !== this.#line) return; // we have ended it ourselves
        host.lost();
        this.#is(false);
      },
      received: (received) => this.#receive(line, received),
    });
    return line;
  }

  /** First what is listened to, then the birth, then whatever else is published. */
  async #connected(line: BrokerLine): Promise<void> {
    if (!(await line.subscribe([this.#state, ...this.#filters]))) return;
    await this.#bear(line);
    if (line !== this.#line) return;
    this.#is(true);
    this.#options.sparkplugHost.connected((topic, payload) => void line.publish(topic, payload, { qos: 0 }));
  }

  #is(online: boolean): void {
    if (this.#isOnline === online) return;
    this.#isOnline = online;
    this.#options.observe({ kind: 'host-state', online });
    void this.#options.lease.sayOnline(online);
  }

  async #bear(line: BrokerLine): Promise<void> {
    await line.publish(this.#state, statePayload(true, this.#willAt), { qos: 1, retain: true });
  }

  #receive(line: BrokerLine, { topic, payload, waited }: Received): Taking | null {
    const { sparkplugHost: host, now } = this.#options;
    if (topic === this.#state) {
      // somebody else's word for ours, such as the will of a connection that we have already replaced
      if (saysOffline(payload) && line === this.#line) void this.#bear(line);
      return null;
    }
    const from = isSparkplug(topic) ? host.topicOf(topic) : null;
    if (!from) return null; // a command, or an edge node that no point names any longer
    return (committed) => void host.take(from, { topic, payload, receivedAt: now(), waited, committed });
  }
}

const unixMs = (at: Instant): number => Math.round(at / MILLISECOND);
