import { setTimeout as delay } from 'node:timers/promises';
import {
  isWell,
  watch,
  withoutSent,
  WATCHER_DELAYS,
  type WatcherMessage,
  type WatcherState,
} from '../../shared/alarms/watcher.ts';
import { digest } from '../../shared/base/digest.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { heartbeatText, watcherText } from '../../shared/wire/watcher-text.ts';
import { keep, readKept } from './kept-state.ts';
import type { Looker } from './look.ts';
import { makePaths, type Path, type PathSettings } from './paths.ts';

/**
 * The watcher watched: looks every few seconds at what this server leans on, tells of it by a path of its own that needs
 * none of that, and sends a sign of life along it while all is well. Where that ceases, whoever expects it knows that even
 * this is gone.
 */
export interface WatcherOptions extends PathSettings {
  /** what people know this server by */
  readonly server: string;
  /** where it remembers what it has told */
  readonly file: string;
  /** 0: no signs of life */
  readonly heartbeatSeconds: number;
  readonly looker: Looker;
  readonly now: () => Instant;
  readonly delays?: typeof WATCHER_DELAYS;
  readonly lookEveryMs?: number;
  readonly observe: (observation: WatcherObservation) => void;
}

export type WatcherObservation =
  | {
      readonly kind: 'told';
      readonly message: WatcherMessage;
      readonly path: string;
      readonly answer: string;
    }
  | { readonly kind: 'not-told'; readonly what: string; readonly path: string; readonly answer: string }
  | { readonly kind: 'watch-failed'; readonly error: unknown };

export interface Watcher {
  stop(): Promise<void>;
}

const LOOK_EVERY_MS = 5_000;
/** what a path hasn't taken for so long is no news any more [ours] */
const GIVEN_UP = seconds(86_400);

export function startWatcher(options: WatcherOptions): Watcher {
  const stopping = new AbortController();
  const { paths, close } = makePaths(options, options.now);
  const watching = new Watching(options, paths);

  async function run(): Promise<void> {
    while (!stopping.signal.aborted) {
      await watching.turn().catch((error: unknown) => options.observe({ kind: 'watch-failed', error }));
      await delay(options.lookEveryMs ?? LOOK_EVERY_MS, undefined, { signal: stopping.signal }).catch(
        () => {},
      );
    }
  }

  const running = run();
  return {
    async stop() {
      stopping.abort();
      await close();
      await running;
      await options.looker.close();
    },
  };
}

/** What the watcher remembers between two looks. */
class Watching {
  readonly #options: WatcherOptions;
  readonly #paths: readonly Path[];
  #state: WatcherState | null = null;
  /** by path and id: what one has taken while another hasn't */
  readonly #handed = new Set<string>();
  #nextBeat: Instant = 0;

  constructor(options: WatcherOptions, paths: readonly Path[]) {
    this.#options = options;
    this.#paths = paths;
  }

  async turn(): Promise<void> {
    const { looker, now, delays, file } = this.#options;
    const before = (this.#state ??= await readKept(file));
    const sights = await looker.look();
    this.#state = watch(before, sights, now(), delays);
    if (JSON.stringify(this.#state) !== JSON.stringify(before)) await keep(file, this.#state);
    for (const path of this.#paths) await this.#tellBy(path, this.#state.unsent);
    const done = this.#state.unsent.filter((one) => this.#isDone(one));
    if (done.length > 0) {
      this.#state = done.reduce((kept, { id }) => withoutSent(kept, id), this.#state);
      await keep(file, this.#state);
    }
    if (isWell(this.#state, sights)) await this.#beat();
  }

  #isDone({ id, at }: WatcherMessage): boolean {
    const everywhere = this.#paths.every(({ name }) => this.#handed.has(`${name} ${id}`));
    return everywhere || this.#options.now() - at > GIVEN_UP;
  }

  /** In order, until one isn't taken: that one is tried again at the next look, with the same id. */
  async #tellBy(path: Path, messages: readonly WatcherMessage[]): Promise<void> {
    const { server, observe } = this.#options;
    for (const message of messages) {
      const mark = `${path.name} ${message.id}`;
      if (this.#handed.has(mark)) continue;
      const { watched, what, says, since, at } = message;
      const data = { server, watched, says, since: formatInstant(since) };
      const text = watcherText(message, server);
      const { kind, answer } = await path.send({
        id: message.id,
        kind: `watcher.${what}`,
        data,
        at,
        ...text,
      });
      if (kind !== 'accepted') return observe({ kind: 'not-told', what: watched, path: path.name, answer });
      this.#handed.add(mark);
      observe({ kind: 'told', message, path: path.name, answer });
    }
  }

  async #beat(): Promise<void> {
    const { server, heartbeatSeconds, now, observe } = this.#options;
    const at = now();
    if (heartbeatSeconds === 0 || at < this.#nextBeat) return;
    this.#nextBeat = at + seconds(heartbeatSeconds);
    const id = digest('heartbeat', server, String(at));
    const data = { server, everySeconds: heartbeatSeconds };
    const text = heartbeatText(server, at);
    for (const { name, send } of this.#paths) {
      const { kind, answer } = await send({ id, kind: 'watcher.heartbeat', data, at, ...text });
      if (kind !== 'accepted') observe({ kind: 'not-told', what: 'sign of life', path: name, answer });
    }
  }
}
