import { keepHeard } from '../db/heard-topics.ts';
import type { Database } from '../db/pool.ts';
import { MILLISECOND, type Instant } from '../shared/base/instant.ts';
import { heardKey, heardOnce, joinHeard, timeIn, valuesIn, type HeardValue } from '../shared/wiring/heard.ts';
import type { Catalogue } from './catalogue.ts';
import { isObject, parsePayload } from './decode/json.ts';
import type { Listening } from './listening.ts';
import type { Message } from './message.ts';
import type { Observe } from './observation.ts';
import { parseSparkplugPayload } from './sparkplug/payload.ts';
import { isSparkplug, parseSparkplugTopic } from './sparkplug/topic.ts';
import { isBelow, parseTopic } from './topic.ts';

/**
 * Notes what is talking and that no point maps: below our root always, elsewhere while somebody has asked to listen there.
 * Beside the line: it looks at a message when it is received, keeps little of it in memory, and writes that every few seconds
 * by itself. It acknowledges nothing and holds nothing back; what it has noted and not written is lost with the process.
 */
export interface HeardTopicsOptions {
  readonly database: Database;
  readonly root: string;
  readonly listening: Listening;
  readonly now: () => Instant;
  readonly observe: Observe;
}

const WRITE_EVERY_MS = 2_000;
/** values told apart between two writes, and payloads that are looked into */
const VALUES = 2_000;
const LARGEST = 64 * 1024;
/** setTimeout takes no more */
const LONGEST_MS = 2 ** 31 - 1;
const GATEWAY_TOPICS = new Set(['heartbeat', 'offline']);

export class HeardTopics {
  readonly #options: HeardTopicsOptions;
  readonly #writing: NodeJS.Timeout;
  #noted = new Map<string, HeardValue>();
  #catalogue: Catalogue;
  #ending: NodeJS.Timeout | null = null;
  #written: Promise<void> = Promise.resolve();

  constructor(options: HeardTopicsOptions) {
    this.#options = options;
    this.#catalogue = options.listening.catalogue;
    options.listening.follow((catalogue) => this.#follow(catalogue));
    this.#writing = setInterval(() => this.#write(), WRITE_EVERY_MS);
    this.#writing.unref();
  }

  /** Looks at a message that was received; never throws. */
  note({ topic, payload, receivedAt, said }: Message): void {
    if (said || payload.length > LARGEST || this.#noted.size >= VALUES) return;
    try {
      if (isBelow(this.#options.root, topic)) this.#noteOwn(topic, payload, receivedAt);
      else if (this.#isAskedFor(topic)) this.#noteForeign(topic, payload, receivedAt);
    } catch (cause) {
      this.#failed(cause);
    }
  }

  async stop(): Promise<void> {
    clearInterval(this.#writing);
    if (this.#ending) clearTimeout(this.#ending);
    this.#write();
    await this.#written;
  }

  #isAskedFor(topic: string): boolean {
    return this.#catalogue.listened.size > 0 && this.#catalogue.sources.match(topic).length === 0;
  }

  /** A topic of the root's own form: what of it the configuration doesn't have. */
  #noteOwn(topic: string, payload: Uint8Array, at: Instant): void {
    const place = parseTopic(this.#options.root, topic);
    if (!place || (place.signal !== null && GATEWAY_TOPICS.has(place.signal))) return;
    const known = this.#catalogue.sites.get(place.site)?.points;
    if (place.signal !== null) {
      if (known?.has(`${place.device}/${place.signal}`)) return;
      return this.#noteForeign(topic, payload, at);
    }
    const parsed = parsePayload(payload);
    if (!parsed.ok) return;
    for (const entry of Array.isArray(parsed.body) ? parsed.body : [parsed.body]) {
      const signals: unknown = isObject(entry) ? entry['signals'] : null;
      if (!isObject(signals)) continue;
      for (const [name, value] of Object.entries(signals))
        if (!known?.has(`${place.device}/${name}`))
          this.#add(
            heardOnce({ topic: `${topic}/${name}`, kind: 'topic', pointer: '', time: null }, value, at),
          );
    }
  }

  #noteForeign(topic: string, payload: Uint8Array, at: Instant): void {
    if (isSparkplug(topic)) return this.#noteMetrics(topic, payload, at);
    const parsed = parsePayload(payload);
    if (!parsed.ok) return;
    const values = valuesIn(parsed.body);
    const time = timeIn(values);
    for (const [pointer, value] of values)
      if (pointer !== time) this.#add(heardOnce({ topic, kind: 'topic', pointer, time }, value, at));
  }

  /** Metrics that a message names; those that it gives by alias alone are known when their edge node is mapped. */
  #noteMetrics(topic: string, payload: Uint8Array, at: Instant): void {
    const place = parseSparkplugTopic(topic);
    const parsed = place && parseSparkplugPayload(payload);
    if (!place || !parsed?.ok) return;
    for (const { name, value } of parsed.payload.metrics) {
      if (name === null || name === '' || value === null || value.field === 'other') continue;
      const metric = `${place.group}/${place.edge}/${place.device}/${name}`;
      const plain = typeof value.value === 'bigint' ? Number(value.value) : value.value;
      this.#add(heardOnce({ topic: metric, kind: 'sparkplug', pointer: '', time: null }, plain, at));
    }
  }

  #add(heard: HeardValue): void {
    const key = heardKey(heard);
    const before = this.#noted.get(key);
    if (before) this.#noted.set(key, joinHeard(before, heard));
    else if (this.#noted.size < VALUES) this.#noted.set(key, heard);
  }

  #write(): void {
    if (this.#noted.size === 0) return;
    const rows = [...this.#noted.values()].map((body) => ({
      ...{ topic: body.topic, pointer: body.pointer, lastAt: body.lastAt },
      body,
    }));
    this.#noted = new Map();
    this.#written = this.#written
      .then(() => keepHeard(this.#options.database, rows, joinHeard))
      .then(
        () => {},
        (cause: unknown) => this.#failed(cause),
      );
  }

  /** Listening ends by itself, also where nothing changes the configuration. */
  #follow(catalogue: Catalogue): void {
    this.#catalogue = catalogue;
    if (this.#ending) clearTimeout(this.#ending);
    this.#ending = null;
    if (catalogue.listenedUntil === null) return;
    const wait = Math.max(0, (catalogue.listenedUntil - this.#options.now()) / MILLISECOND);
    this.#ending = setTimeout(() => this.#end(catalogue), Math.min(wait, LONGEST_MS));
    this.#ending.unref();
  }

  #end(catalogue: Catalogue): void {
    const { listening } = this.#options;
    if (listening.catalogue !== catalogue) return;
    const filters = new Set([...catalogue.filters].filter((filter) => !catalogue.listened.has(filter)));
    listening.catalogue = { ...catalogue, filters, listened: new Set(), listenedUntil: null };
  }

  #failed(cause: unknown): void {
    const error = cause instanceof Error ? cause : new Error(String(cause));
    this.#options.observe({ kind: 'heard-not-kept', error });
  }
}
