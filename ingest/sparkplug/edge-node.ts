import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { Births, saidMetrics } from './births.ts';
import type { Payload } from './payload.ts';
import type { Said, SparkplugRefusal, Stale } from './said.ts';
import { bdSeqOf, Session } from './session.ts';
import type { SparkplugTopic } from './topic.ts';

/**
 * What an edge node's messages mean, one after the other. Driven by messages and instants alone: no clock, no dice, no I/O.
 *
 * Not born: nothing has been named. What says its name and type by itself is taken, everything else is set aside, and a
 * rebirth is asked for. Born, by an NBIRTH: messages come in the order of their `seq`. One that comes early is held, for the
 * reorder timeout at most; when what is missing has come, those held follow it, as if nothing had been the matter. Else the
 * session is given up: its values are stale from after the last one that was known, and a rebirth is asked for. A death with
 * the birth's bdSeq ends the session in the same way; one with another is an older connection's and means nothing.
 *
 * What must never be: a value under a name that its edge node didn't give it. So after anything that can't be explained the
 * aliases are forgotten.
 */
export interface NodeMessage<M> extends Pick<SparkplugTopic, 'kind' | 'device'> {
  readonly payload: Payload;
  /** tells copies of one message from two messages */
  readonly print: string;
  /** of its payload: what holding it costs */
  readonly bytes: number;
  /** what it came as: handed back with what it says */
  readonly message: M;
}

export interface Told<M> {
  /** null: nothing came; time has passed */
  readonly message: M | null;
  readonly said: Said;
}

export interface Step<M> {
  readonly told: readonly Told<M>[];
  /** a rebirth is to be asked for, now */
  readonly rebirth: RebirthReason | null;
}

export type RebirthReason = 'first' | 'not-born' | 'out-of-order' | 'metric-not-born' | 'mapping';

export interface EdgeNodeOptions {
  readonly group: string;
  readonly edge: string;
  readonly reorderSeconds: number;
  /** the newest that is on record of it from before; null: nothing */
  readonly heardBefore: Instant | null;
}

/** Messages held for one edge node, and bytes of their payloads; when there are more, what is missing is given up at once. */
const MOST_HELD = 100;
const MOST_HELD_BYTES = 1_000_000;
/** Between two requests for a rebirth, doubled while none comes. */
const ASK_AGAIN = 5 * SECOND;
const ASK_AT_MOST = 300 * SECOND;

interface Held<M> extends NodeMessage<M> {
  /** when it came */
  readonly at: Instant;
  /** its turn in this session is still to come */
  readonly isEarly: boolean;
}

export class EdgeNode<M> {
  readonly #options: EdgeNodeOptions;
  readonly #reorder: number;
  #session: Session | null = null;
  #heardBefore: Instant | null;
  #held: Held<M>[] = [];
  #told: Told<M>[] = [];
  #wish: RebirthReason | null = null;
  #mayAskAt: Instant = -Infinity;
  #askAgain = ASK_AGAIN;
  #gaps = 0;

  constructor(options: EdgeNodeOptions) {
    this.#options = options;
    this.#reorder = options.reorderSeconds * SECOND;
    this.#heardBefore = options.heardBefore;
  }

  get isBorn(): boolean {
    return this.#session !== null;
  }

  /** How often something was missing in the order of `seq` that never came. */
  get gaps(): number {
    return this.#gaps;
  }

  /** When to call `tick`; null: nothing waits for time to pass. */
  get deadline(): Instant | null {
    const held = this.#held[0] ? Math.min(...this.#held.map(({ at }) => at)) + this.#reorder : Infinity;
    const least = Math.min(held, this.#wish ? this.#mayAskAt : Infinity);
    return least === Infinity ? null : least;
  }

  take(message: NodeMessage<M>, at: Instant): Step<M> {
    if (message.kind === 'NBIRTH') this.#takeBirth(message, at);
    else if (message.kind === 'NDEATH') this.#takeDeath(message);
    else this.#takeInTurn(message, at);
    return this.#step(at);
  }

  tick(at: Instant): Step<M> {
    if (this.#held.some((held) => at >= held.at + this.#reorder)) this.#giveUp('out-of-order');
    return this.#step(at);
  }

  /** A rebirth is wanted from outside: we have just begun to listen, or more metrics are wanted. */
  ask(why: RebirthReason, at: Instant): Step<M> {
    this.#wish ??= why;
    return this.#step(at);
  }

  /** The connection is gone, and with it what was sent meanwhile. */
  lose(at: Instant): Step<M> {
    if (this.#session) this.#giveUp('not-born');
    this.#wish = null; // asked for when there is a connection again
    return this.#step(at);
  }

  #takeBirth(message: NodeMessage<M>, at: Instant): void {
    const { payload, print } = message;
    if (this.#session?.isCopy(payload.seq, print)) return this.#tell(message, {});
    if (payload.seq === null || payload.seq > 255) return this.#refuse(message, 'sparkplug-sequence');
    if (this.#session?.isBefore(payload.timestamp, at, this.#reorder))
      return this.#refuse(message, 'sparkplug-out-of-order');
    const session = new Session(payload, print, at);
    const isAfter = ({ payload: held }: Held<M>) => (held.timestamp ?? 0) > (payload.timestamp ?? Infinity);
    const missed = this.#held.filter((held) => !isAfter(held));
    this.#held = this.#held.filter(isAfter);
    for (const held of missed) this.#refuse(held, 'sparkplug-out-of-order');
    if (missed.length > 0) this.#gaps++;
    const stale = this.#before(session, missed.length > 0);
    this.#held = this.#held.map((one) => ({ ...one, isEarly: session.ahead(one.payload.seq!) < 128 }));
    this.#session = session;
    this.#heardBefore = null;
    this.#wish = null;
    this.#askAgain = ASK_AGAIN;
    this.#mayAskAt = -Infinity;
    this.#tellMetrics(message, session.births(''), true, stale);
    this.#drain();
  }

  /** Something was missed, or the edge node has a new connection: what was between the last that we know and this isn't known. */
  #before(session: Session, isMissed: boolean): Stale[] {
    const old = this.#session;
    if (old && old.bdSeq !== null && old.bdSeq === session.bdSeq && !isMissed) return [];
    const last = old ? old.lastClaimed : this.#heardBefore;
    if (last === null) return [];
    const t = Math.min(last + 1, session.firstClaim - 1);
    return [{ device: null, t }];
  }

  #takeDeath(message: NodeMessage<M>): void {
    const session = this.#session;
    const bdSeq = bdSeqOf(message.payload);
    if (!session || (session.bdSeq !== null && session.bdSeq !== bdSeq)) return this.#tell(message, {});
    this.#tell(message, { stale: this.#forget('sparkplug-out-of-order') });
  }

  #takeInTurn(message: NodeMessage<M>, at: Instant): void {
    const session = this.#session;
    const { seq, timestamp } = message.payload;
    if (!session) {
      this.#wish ??= 'not-born';
      return this.#tellMetrics(message, null, false, [], 'sparkplug-not-born');
    }
    if (seq === null || seq > 255) {
      this.#wish ??= 'out-of-order';
      return this.#refuse(message, 'sparkplug-sequence');
    }
    if (session.isBefore(timestamp, at, this.#reorder))
      return this.#refuse(message, 'sparkplug-out-of-order');
    const ahead = session.ahead(seq);
    if (ahead === 0) {
      this.#process({ ...message, at, isEarly: false }, session);
      this.#drain();
    } else if (session.isCopy(seq, message.print)) this.#tell(message, {});
    // behind: not of this session, but perhaps of one whose birth it has overtaken
    else this.#hold({ ...message, at, isEarly: ahead < 128 });
  }

  #hold(message: Held<M>): void {
    const same = this.#held.find(({ payload }) => payload.seq === message.payload.seq);
    if (same?.print === message.print) return this.#tell(message, {});
    if (same) return this.#refuse(message, 'sparkplug-out-of-order');
    this.#held.push(message);
    const bytes = this.#held.reduce((sum, held) => sum + held.bytes, 0);
    if (this.#held.length > MOST_HELD || bytes > MOST_HELD_BYTES) this.#giveUp('out-of-order');
  }

  #drain(): void {
    const session = this.#session;
    if (!session) return;
    for (;;) {
      const i = this.#held.findIndex(({ isEarly, payload }) => isEarly && session.ahead(payload.seq!) === 0);
      if (i < 0) return;
      this.#process(this.#held.splice(i, 1)[0]!, session);
    }
  }

  #process(message: Held<M>, session: Session): void {
    const { kind, device, payload, print, at } = message;
    session.pass(payload, print, at);
    if (kind === 'DDEATH')
      return this.#tell(message, { livedAt: payload.timestamp, stale: session.end(device, payload) });
    if (kind === 'DBIRTH') session.bear(device, payload);
    const births = session.births(kind === 'NDATA' ? '' : device);
    if (!births) this.#wish ??= 'not-born';
    this.#tellMetrics(message, births, kind === 'DBIRTH', []);
  }

  /** Nothing explains what came: values are stale from after the last that was in order, names are forgotten. */
  #giveUp(why: RebirthReason): void {
    this.#wish ??= why;
    if (why === 'out-of-order') this.#gaps++;
    const stale = this.#forget('sparkplug-out-of-order');
    if (stale.length > 0) this.#told.unshift({ message: null, said: { ...this.#nothing(), stale } });
  }

  /** The session ends; what was held is told of without it. */
  #forget(refusal: SparkplugRefusal): Stale[] {
    const last = this.#session?.lastClaimed ?? null;
    this.#session = null;
    for (const held of this.#held.splice(0)) this.#tellMetrics(held, null, false, [], refusal);
    return last === null ? [] : [{ device: null, t: last + 1 }];
  }

  /** `unnamed`: why what has no name of its own isn't taken, where no birth is known. */
  #tellMetrics(
    message: NodeMessage<M>,
    births: Births | null,
    isBirth: boolean,
    stale: readonly Stale[],
    unnamed: SparkplugRefusal = 'sparkplug-not-born',
  ): void {
    const { kind, device, payload } = message;
    const metrics = saidMetrics({ device, births, payload, isBirth }).map((metric) =>
      metric.refusal === 'sparkplug-not-born' ? { ...metric, refusal: unnamed } : metric,
    );
    if (births && metrics.some(({ refusal }) => refusal === 'sparkplug-metric'))
      this.#wish ??= 'metric-not-born';
    const isDeath = kind === 'DDEATH' || kind === 'NDEATH';
    this.#tell(message, { livedAt: payload.timestamp, metrics: isDeath ? [] : metrics, stale });
  }

  #refuse(message: NodeMessage<M>, refused: SparkplugRefusal): void {
    this.#tell(message, { refused });
  }

  #tell({ message }: NodeMessage<M>, said: Partial<Said>): void {
    this.#told.push({ message, said: { ...this.#nothing(), ...said } });
  }

  #nothing(): Said {
    const { group, edge } = this.#options;
    return { group, edge, livedAt: null, metrics: [], stale: [], refused: null };
  }

  #step(at: Instant): Step<M> {
    const told = this.#told;
    this.#told = [];
    if (!this.#wish || at < this.#mayAskAt) return { told, rebirth: null };
    const rebirth = this.#wish;
    this.#wish = null;
    this.#mayAskAt = at + this.#askAgain;
    this.#askAgain = Math.min(2 * this.#askAgain, ASK_AT_MOST);
    return { told, rebirth };
  }
}
