import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Observe } from '../observation.ts';
import { isBelow } from '../topic.ts';
import { Watch } from '../watch.ts';
import { BrokerLine, elapsed, type Received, type Taking } from './broker-line.ts';
import { Marker } from './marker.ts';
import type { Source } from './source.ts';

/**
 * Receiving from an external broker: what comes on the root's topics and on those that points name, and our own marker
 * after every connection, so that it is known what may have waited there.
 *
 * The session is durable: fixed client id, clean false, on MQTT 5 an expiry of 7 days. What isn't acknowledged comes again.
 */
export interface ExternalOptions {
  readonly url: string;
  readonly clientId: string;
  readonly root: string;
  /** messages received and not yet committed, at which the connection is held back */
  readonly highWater: number;
  readonly markSeconds: number;
  readonly committer: Committer;
  readonly listening: Listening;
  /** what else receives for the same committer: it ends before it */
  readonly beside: { stop(): Promise<void> };
  readonly now: () => Instant;
  readonly observe: Observe;
}

/** How long a stop waits for the last marker to come back. */
const LAST_MARK_MS = 3_000;

export function receiveFromBroker(options: ExternalOptions): Source {
  return new ExternalReceiver(options);
}

class ExternalReceiver implements Source {
  readonly port = null;
  readonly #options: ExternalOptions;
  readonly #marker: Marker;
  readonly #watch: Watch;
  readonly #line: BrokerLine;
  readonly #ticking: NodeJS.Timeout;
  /** topics of sources that points name, besides those of the root */
  #filters: ReadonlySet<string> = new Set();
  #subscribedAt: Instant = 0;
  /** our marker has come back on this connection: values without a time come straight from their publisher */
  #caughtUp = false;
  #lastMark: { readonly sentAt: Instant; readonly marked: () => void } | null = null;

  constructor(options: ExternalOptions) {
    this.#options = options;
    const { url, clientId, highWater, observe } = options;
    this.#marker = new Marker(options.root, clientId);
    this.#watch = new Watch(options.committer, clientId);
    this.#line = new BrokerLine({
      ...{ url, clientId, highWater, observe, isDurable: true },
      connected: (as) => {
        observe({ kind: 'broker-connected', ...as });
        void this.#subscribe();
      },
      lost: () => this.#lost(),
      received: (received) => this.#receive(received),
    });
    options.listening.follow(({ filters }) => void this.#listenTo(filters));
    this.#ticking = setInterval(() => this.#tick(), options.markSeconds * 1_000);
  }

  async stop(): Promise<void> {
    clearInterval(this.#ticking);
    if (this.#line.isConnected && this.#caughtUp) {
      const sentAt = this.#options.now();
      const marked = new Promise<void>((done) => (this.#lastMark = { sentAt, marked: done }));
      this.#sendMarker(sentAt);
      await Promise.race([marked, elapsed(LAST_MARK_MS)]);
    }
    this.#line.close();
    this.#watch.end();
    await this.#options.beside.stop();
    await this.#options.committer.stop();
    await this.#line.end();
  }

  async #subscribe(): Promise<void> {
    const { root, now } = this.#options;
    if (!(await this.#line.subscribe([`${root}/#`, this.#marker.topic, ...this.#filters]))) return;
    this.#subscribedAt = now();
    this.#watch.begin(this.#subscribedAt);
    this.#sendMarker(this.#subscribedAt);
  }

  /** The configuration names these topics now. What is subscribed to when we connect isn't asked for twice. */
  async #listenTo(filters: ReadonlySet<string>): Promise<void> {
    const { root, observe } = this.#options;
    const wanted = new Set([...filters].filter((filter) => !isBelow(root, filter)));
    const added = [...wanted].filter((filter) => !this.#filters.has(filter));
    const gone = [...this.#filters].filter((filter) => !wanted.has(filter));
    this.#filters = wanted;
    if (!this.#line.isConnected) return;
    if (gone.length > 0) this.#line.unsubscribe(gone);
    if (added.length > 0 && (await this.#line.subscribe(added)))
      observe({ kind: 'listening-to', filters: added.length });
  }

  #receive({ topic, payload, waited }: Received): Taking | null {
    if (topic === this.#marker.topic) {
      this.#markerCameBack(payload);
      return null; // a marker holds no data
    }
    const { committer, now } = this.#options;
    const why = waited ?? (this.#caughtUp ? null : 'before-marker');
    return (committed) => committer.add({ topic, payload, receivedAt: now(), waited: why, committed });
  }

  /** One that is lost is followed by the next. */
  #sendMarker(at: Instant): void {
    void this.#line.publish(this.#marker.topic, this.#marker.make(at), { qos: 1 });
  }

  #markerCameBack(payload: Uint8Array): void {
    const { now, observe } = this.#options;
    const sentAt = this.#marker.cameBack(payload);
    if (sentAt === null) return;
    if (!this.#caughtUp) observe({ kind: 'caught-up', afterMs: (now() - this.#subscribedAt) / MILLISECOND });
    this.#caughtUp = true;
    void this.#watch.mark(sentAt).then(() => {
      if (this.#lastMark && sentAt >= this.#lastMark.sentAt) this.#lastMark.marked();
    });
  }

  #tick(): void {
    if (this.#line.isConnected && this.#caughtUp && !this.#marker.isOut)
      this.#sendMarker(this.#options.now());
  }

  #lost(): void {
    this.#caughtUp = false;
    this.#marker.forget();
    this.#watch.end();
    this.#options.observe({ kind: 'broker-lost' });
  }
}
