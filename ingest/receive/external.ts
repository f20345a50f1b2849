import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import { momentOf, type Moment } from '../clock.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Observe } from '../observation.ts';
import { isBelow } from '../topic.ts';
import type { Member } from '../member.ts';
import { Watch } from '../watch.ts';
import { BrokerLine, elapsed, type Received, type Taking } from './broker-line.ts';
import type { HostLine } from './host-line.ts';
import { Marker } from './marker.ts';
import type { Source } from './source.ts';

/**
 * Receiving from an external broker: what comes on the root's topics and on those that points name, and our own marker
 * after every connection, so that it is known what may have waited there.
 *
 * The session is durable: fixed client id, clean false, on MQTT 5 an expiry of 7 days. What isn't acknowledged comes again.
 * A member of a group shares every topic but its own marker's, which comes back behind all that waits for it alone.
 */
export interface ExternalOptions {
  readonly url: string;
  readonly clientId: string;
  readonly root: string;
  /** messages received and not yet committed, and their bytes, at which the connection is held back */
  readonly highWater: number;
  readonly highWaterBytes: number;
  /** shares the messages with others of its group; null: receives all of them */
  readonly member: Member | null;
  readonly markSeconds: number;
  readonly committer: Committer;
  readonly listening: Listening;
  /** what else receives for the same committer: it ends before it */
  readonly beside: Pick<HostLine, 'stop' | 'leaseName' | 'isDown'>;
  readonly now: () => Instant;
  readonly observe: Observe;
}

/** How long a stop waits for the last marker to come back, and how long one who leaves does. */
const LAST_MARK_MS = 3_000;
const LEAVING_MS = 10 * 60_000;

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
  #subscribed: Moment = { at: 0, passed: 0 };
  /** our marker has come back on this connection: values without a time come straight from their publisher */
  #caughtUp = false;
  /** what was shared with it from before it connected is still in its session, as far as is known */
  #hasSession: boolean;
  /** drawn before the marker that is out was sent */
  #heardIn: number | null = null;
  #isLeaving = false;
  #lastMark: { readonly sent: Moment; readonly marked: () => void } | null = null;

  constructor(options: ExternalOptions) {
    this.#options = options;
    const { url, clientId, highWater, highWaterBytes, observe, member } = options;
    this.#hasSession = member?.wasKnown ?? false;
    this.#marker = new Marker(options.root, clientId);
    this.#watch = new Watch(options.committer, clientId);
    this.#line = new BrokerLine({
      ...{ url, clientId, highWater, highWaterBytes, observe, isDurable: true, needsMqtt5: member !== null },
      connected: (as) => {
        observe({ kind: 'broker-connected', ...as });
        void this.#subscribe(as);
      },
      lost: () => this.#lost(),
      received: (received) => this.#receive(received),
    });
    options.listening.follow(({ filters }) => void this.#listenTo(filters));
    this.#ticking = setInterval(() => this.#tick(), options.markSeconds * 1_000);
  }

  async stop(): Promise<void> {
    clearInterval(this.#ticking);
    if (this.#line.isConnected && this.#caughtUp) await this.#lastMarked(LAST_MARK_MS);
    await this.#end();
  }

  /** First it takes no new share, then what its session holds, up to a marker; only then is the session ended. */
  async leave(): Promise<void> {
    const { member, observe } = this.#options;
    clearInterval(this.#ticking);
    this.#isLeaving = true;
    const unsubscribed = this.#line.isConnected && (await this.#line.unsubscribe(this.#topics));
    const isEmpty = unsubscribed && (await this.#lastMarked(LEAVING_MS));
    await this.#end(isEmpty);
    if (!isEmpty) throw new Error('The broker went before its session was empty: leave once more.');
    await member?.leave();
    observe({ kind: 'left' });
  }

  /** Sends a last marker; false: it hasn't come back in time. */
  async #lastMarked(ms: number): Promise<boolean> {
    const sent = momentOf(this.#options.now);
    const marked = new Promise<boolean>((done) => {
      this.#lastMark = { sent, marked: () => done(true) };
    });
    await this.#sendMarker(sent);
    return Promise.race([marked, elapsed(ms).then(() => false)]);
  }

  async #end(forGood = false): Promise<void> {
    this.#line.close();
    this.#watch.end();
    await this.#options.beside.stop();
    await this.#options.committer.stop();
    await this.#line.end(forGood);
  }

  get #topics(): string[] {
    const topics = [`${this.#options.root}/#`, ...this.#filters];
    const { member } = this.#options;
    return member ? topics.map((filter) => member.share(filter)) : topics;
  }

  async #subscribe({ sessionPresent }: { readonly sessionPresent: boolean }): Promise<void> {
    const { now, member, observe } = this.#options;
    // a session from before it was a member still has the ordinary subscriptions
    if (member && sessionPresent) await this.#line.unsubscribe([`${this.#options.root}/#`, ...this.#filters]);
    if (!(await this.#line.subscribe([...(this.#isLeaving ? [] : this.#topics), this.#marker.topic]))) return;
    this.#subscribed = momentOf(now);
    this.#watch.begin(this.#subscribed);
    if (this.#hasSession && !sessionPresent) {
      observe({ kind: 'session-lost' });
      void this.#watch.mark(this.#subscribed, { isGap: true });
    }
    this.#hasSession = member !== null;
    await this.#sendMarker(this.#subscribed);
  }

  /** The configuration names these topics now. What is subscribed to when we connect isn't asked for twice. */
  async #listenTo(filters: ReadonlySet<string>): Promise<void> {
    const { root, observe, member } = this.#options;
    const wanted = new Set([...filters].filter((filter) => !isBelow(root, filter)));
    const added = [...wanted].filter((filter) => !this.#filters.has(filter));
    const gone = [...this.#filters].filter((filter) => !wanted.has(filter));
    this.#filters = wanted;
    if (!this.#line.isConnected || this.#isLeaving) return;
    const share = (topics: readonly string[]) => topics.map((filter) => member?.share(filter) ?? filter);
    if (gone.length > 0) void this.#line.unsubscribe(share(gone));
    if (added.length > 0 && (await this.#line.subscribe(share(added))))
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

  /** One that is lost is followed by the next. A member draws its number first: the marker then comes behind it. */
  async #sendMarker(at: Moment): Promise<void> {
    const { member } = this.#options;
    const payload = this.#marker.make(at);
    this.#heardIn = member ? await member.hear() : null;
    if (member && this.#heardIn === null) return this.#marker.forget();
    void this.#line.publish(this.#marker.topic, payload, { qos: 1 });
  }

  #markerCameBack(payload: Uint8Array): void {
    const { now, observe } = this.#options;
    const sent = this.#marker.cameBack(payload);
    if (sent === null) return;
    if (!this.#caughtUp) {
      const { passed } = momentOf(now);
      observe({ kind: 'caught-up', afterMs: (passed - this.#subscribed.passed) / MILLISECOND });
    }
    this.#caughtUp = true;
    const { isDown, leaseName: lease } = this.#options.beside;
    const heardIn = this.#heardIn === null ? {} : { heardIn: this.#heardIn };
    void this.#watch.mark(sent, { ...heardIn, isGap: isDown, lease }).then(() => {
      if (this.#lastMark && sent.passed >= this.#lastMark.sent.passed) this.#lastMark.marked();
    });
  }

  #tick(): void {
    if (this.#line.isConnected && this.#caughtUp && !this.#marker.isOut)
      void this.#sendMarker(momentOf(this.#options.now));
  }

  #lost(): void {
    this.#caughtUp = false;
    this.#marker.forget();
    this.#watch.end();
    this.#options.observe({ kind: 'broker-lost' });
  }
}
