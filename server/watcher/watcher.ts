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
  const { looker, now, observe } = options;
  const stopping = new AbortController();
  const { paths, close } = makePaths(options, now);
  let state: WatcherState | null = null;
  const handed = new Set<string>();
  let nextBeat: Instant = 0;

  async function turn(): Promise<void> {
    const before = (state ??= await readKept(options.file));
    const sights = await looker.look();
    state = watch(before, sights, now(), options.delays);
    if (JSON.stringify(state) !== JSON.stringify(before)) await keep(options.file, state);
    for (const path of paths) await tellBy(path, state.unsent);
    const done = state.unsent.filter(
      ({ id, at }) => paths.every(({ name }) => handed.has(`${name} ${id}`)) || now() - at > GIVEN_UP,
    );
    if (done.length > 0)
      await keep(options.file, (state = done.reduce((kept, { id }) => withoutSent(kept, id), state)));
    if (isWell(state, sights)) await beat();
  }

  /** In order, until one isn't taken: that one is tried again at the next look, with the same id. */
  async function tellBy(path: Path, messages: readonly WatcherMessage[]): Promise<void> {
    for (const message of messages) {
      const mark = `${path.name} ${message.id}`;
      if (handed.has(mark)) continue;
      const { watched, what, says, since, at } = message;
      const data = { server: options.server, watched, says, since: formatInstant(since) };
      const text = watcherText(message, options.server);
      const { kind, answer } = await path.send({
        id: message.id,
        kind: `watcher.${what}`,
        data,
        at,
        ...text,
      });
      if (kind !== 'accepted') return observe({ kind: 'not-told', what: watched, path: path.name, answer });
      handed.add(mark);
      observe({ kind: 'told', message, path: path.name, answer });
    }
  }

  async function beat(): Promise<void> {
    const at = now();
    if (options.heartbeatSeconds === 0 || at < nextBeat) return;
    nextBeat = at + seconds(options.heartbeatSeconds);
    const id = digest('heartbeat', options.server, String(at));
    const data = { server: options.server, everySeconds: options.heartbeatSeconds };
    const text = heartbeatText(options.server, at);
    for (const { name, send } of paths) {
      const { kind, answer } = await send({ id, kind: 'watcher.heartbeat', data, at, ...text });
      if (kind !== 'accepted') observe({ kind: 'not-told', what: 'sign of life', path: name, answer });
    }
  }

  async function run(): Promise<void> {
    while (!stopping.signal.aborted) {
      await turn().catch((error: unknown) => observe({ kind: 'watch-failed', error }));
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
      await looker.close();
    },
  };
}
