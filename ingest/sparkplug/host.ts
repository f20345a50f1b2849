import { MILLISECOND, SECOND, type Instant } from '../../shared/base/instant.ts';
import type { Catalogue, KnownEdge } from '../catalogue.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Message } from '../message.ts';
import type { Observe } from '../observation.ts';
import { EdgeNode, type NodeMessage, type Step } from './edge-node.ts';
import { parseSparkplugPayload, rebirthRequest } from './payload.ts';
import { printOf } from './print.ts';
import type { Said } from './said.ts';
import { commandTopic, edgeFilter, NAMESPACE, parseSparkplugTopic, type SparkplugTopic } from './topic.ts';

/**
 * The host application for the edge nodes that points name: between a receiver and the committer it gives each message its
 * place in its edge node's session. It listens and asks for rebirths, and writes to nothing else of an edge node's.
 *
 * What is held is acknowledged when it has been told of and committed, like everything else.
 */
export interface HostOptions {
  readonly reorderSeconds: number;
  readonly committer: Committer;
  readonly listening: Listening;
  readonly now: () => Instant;
  readonly observe: Observe;
}

/** Publishes a command with QoS 0, not retained. */
export type SendCommand = (topic: string, payload: Buffer) => void;

interface Listened {
  readonly node: EdgeNode<Message>;
  known: KnownEdge;
  gapsTold: number;
  timer: NodeJS.Timeout | null;
}

export class SparkplugHost {
  readonly #options: HostOptions;
  readonly #nodes = new Map<string, Listened>();
  #send: SendCommand | null = null;

  constructor(options: HostOptions) {
    this.#options = options;
    options.listening.follow((catalogue) => this.#follow(catalogue));
  }

  /** Topic filters of the edge nodes that points name now; none: there is nothing to be a host of. */
  get filters(): string[] {
    return [...this.#nodes.values()].map(({ known }) => edgeFilter(known.group, known.edge));
  }

  /** Which edge node says this; null: none that points name. */
  topicOf(topic: string): SparkplugTopic | null {
    const parsed = parseSparkplugTopic(topic);
    return parsed && this.#nodes.has(`${parsed.group}/${parsed.edge}`) ? parsed : null;
  }

  /** False: it is held, until what should come before it has come. */
  take(topic: SparkplugTopic, message: Message): boolean {
    const listened = this.#nodes.get(`${topic.group}/${topic.edge}`)!;
    const parsed = parseSparkplugPayload(message.payload);
    if (!parsed.ok) {
      this.#tell(message, { ...nothingOf(topic), refused: parsed.reason });
      return true;
    }
    const { kind, device } = topic;
    const print = printOf(kind, device, message.payload);
    const bytes = message.payload.length;
    const node: NodeMessage<Message> = { kind, device, payload: parsed.payload, print, bytes, message };
    const step = listened.node.take(node, message.receivedAt);
    this.#after(listened, step);
    return step.told.some((told) => told.message === message);
  }

  /** There is a connection: nothing is known of any edge node until it has been born again. */
  connected(send: SendCommand): void {
    this.#send = send;
    this.begin();
  }

  /** What edge nodes that aren't born say is listened to now: they are asked for a birth. */
  begin(): void {
    for (const listened of this.#nodes.values()) if (!listened.node.isBorn) this.#ask(listened, 'first');
  }

  /** The connection is gone: so is what was sent meanwhile. */
  lost(): void {
    this.#send = null;
    for (const listened of this.#nodes.values())
      this.#after(listened, listened.node.lose(this.#options.now()));
  }

  #follow({ edges }: Catalogue): void {
    for (const [id, listened] of this.#nodes) {
      if (edges.has(id)) continue;
      if (listened.timer) clearTimeout(listened.timer);
      this.#after(listened, listened.node.lose(this.#options.now()));
      this.#nodes.delete(id);
    }
    for (const [id, known] of edges) {
      const listened = this.#nodes.get(id);
      if (!listened) this.#add(id, known);
      else if (isMore(known, listened.known)) this.#ask(listened, 'mapping');
      if (listened) listened.known = known;
    }
  }

  #add(id: string, known: KnownEdge): void {
    const { group, edge, heardBefore } = known;
    const node = new EdgeNode<Message>({
      group,
      edge,
      reorderSeconds: this.#options.reorderSeconds,
      // lives are whole seconds: what was heard within the last one is no later than its end
      heardBefore: heardBefore === null ? null : heardBefore + SECOND - 1,
    });
    this.#nodes.set(id, { node, known, gapsTold: 0, timer: null });
  }

  #ask(listened: Listened, why: 'first' | 'mapping'): void {
    if (this.#send) this.#after(listened, listened.node.ask(why, this.#options.now()));
  }

  #after(listened: Listened, { told, rebirth }: Step<Message>): void {
    const { now, observe } = this.#options;
    const { group, edge } = listened.known;
    if (listened.node.gaps > listened.gapsTold) {
      listened.gapsTold = listened.node.gaps;
      observe({ kind: 'sequence-gap', group, edge });
    }
    for (const { message, said } of told) this.#tell(message ?? passing(group, edge, now()), said);
    if (rebirth && this.#send) {
      this.#send(commandTopic(group, edge), Buffer.from(rebirthRequest(Math.round(now() / MILLISECOND))));
      observe({ kind: 'rebirth-asked', group, edge, why: rebirth });
    }
    this.#wake(listened);
  }

  #tell(message: Message, said: Said): void {
    this.#options.committer.add({ ...message, said });
  }

  #wake(listened: Listened): void {
    if (listened.timer) clearTimeout(listened.timer);
    listened.timer = null;
    const { deadline } = listened.node;
    if (deadline === null) return;
    const { now } = this.#options;
    const wait = Math.max(1, Math.ceil((deadline - now()) / MILLISECOND));
    listened.timer = setTimeout(() => this.#after(listened, listened.node.tick(now())), wait);
  }
}

const nothingOf = ({ group, edge }: SparkplugTopic): Said => ({
  group,
  edge,
  livedAt: null,
  metrics: [],
  stale: [],
  refused: null,
});

/** Nothing came; time has passed. */
const passing = (group: string, edge: string, now: Instant): Message => ({
  topic: `${NAMESPACE}/${group}/${edge}`,
  payload: new Uint8Array(),
  receivedAt: now,
  waited: null,
  committed: () => {},
});

/** A metric is wanted now that wasn't: its value is in the birth. */
const isMore = (now: KnownEdge, before: KnownEdge): boolean =>
  [...now.metrics.keys()].some((key) => !before.metrics.has(key));
