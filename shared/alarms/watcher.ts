import { digest } from '../base/digest.ts';
import { seconds, type Instant } from '../base/instant.ts';
import { AT_REST, isActive, type AlarmLife } from './life.ts';
import { move, type LifeSettings } from './machine.ts';

/**
 * The watcher watched (handbook 7): what this server itself leans on, each with an alarm's life. Its delays run in the
 * server's time. One outage makes one message when it has lasted and one when it is over; what can't be told because
 * what would tell it is away itself keeps its state.
 */
const WATCHED = ['database', 'broker', 'ingest', 'inference'] as const;
export type Watched = (typeof WATCHED)[number];

export type Sight =
  | { readonly kind: 'well' }
  | { readonly kind: 'wrong'; readonly says: string }
  | { readonly kind: 'not-known' };
export type Sights = Readonly<Record<Watched, Sight>>;

/** All ours [from memory]: past a restart of the part, and past the worst hour of a re-fold. */
export const WATCHER_DELAYS: Readonly<Record<Watched, Omit<LifeSettings, 'latches'>>> = {
  database: { onDelaySeconds: 20, offDelaySeconds: 20 },
  broker: { onDelaySeconds: 60, offDelaySeconds: 20 },
  ingest: { onDelaySeconds: 60, offDelaySeconds: 20 },
  inference: { onDelaySeconds: 300, offDelaySeconds: 60 },
};

interface Watching {
  readonly life: AlarmLife;
  readonly since: Instant | null;
  readonly says: string;
}

export interface WatcherMessage {
  /** the same however often it is tried, also after a restart */
  readonly id: string;
  readonly watched: Watched;
  readonly what: 'trouble' | 'over';
  readonly says: string;
  readonly since: Instant;
  readonly at: Instant;
}

export interface WatcherState {
  readonly watching: Readonly<Partial<Record<Watched, Watching>>>;
  /** decided and not yet handed over, the oldest first */
  readonly unsent: readonly WatcherMessage[];
}

export const NOTHING_WATCHED: WatcherState = { watching: {}, unsent: [] };

/** So many wait at most; the oldest go, for the newest tells how it is now. */
const UNSENT_BOUND = 50;

export function watch(
  state: WatcherState,
  sights: Sights,
  now: Instant,
  delays: Readonly<Record<Watched, Omit<LifeSettings, 'latches'>>> = WATCHER_DELAYS,
): WatcherState {
  const watching = new Map(Object.entries(state.watching) as [Watched, Watching][]);
  const unsent = [...state.unsent];
  for (const watched of WATCHED) {
    const sight = sights[watched];
    if (sight.kind === 'not-known') continue;
    const { next, message } = watchOne(watched, watching.get(watched), sight, now, delays[watched]);
    if (next) watching.set(watched, next);
    else watching.delete(watched);
    if (message) unsent.push(message);
  }
  return { watching: Object.fromEntries(watching), unsent: unsent.slice(-UNSENT_BOUND) };
}

function watchOne(
  watched: Watched,
  before: Watching | undefined,
  sight: Exclude<Sight, { kind: 'not-known' }>,
  now: Instant,
  delays: Omit<LifeSettings, 'latches'>,
): { readonly next: Watching | null; readonly message: WatcherMessage | null } {
  const { life, since, says } = before ?? { life: AT_REST, since: null, says: '' };
  const wrong = sight.kind === 'wrong';
  const from = wrong ? (since ?? now) : null;
  const observed = {
    kind: 'observed',
    since: from,
    until: null,
    through: now,
    severity: 'critical',
  } as const;
  const moved = move(life, observed, { ...delays, latches: false });
  const is: Watching = {
    life: moved.life,
    since: isActive(moved.life) ? (since ?? now) : from,
    says: sight.kind === 'wrong' ? sight.says : says,
  };
  const tell = (what: WatcherMessage['what'], began: Instant): WatcherMessage => ({
    id: digest('watcher', watched, String(began), what),
    watched,
    what,
    says: is.says,
    since: began,
    at: now,
  });
  if (moved.happened.includes('raised')) return { next: is, message: tell('trouble', from ?? now) };
  // nobody acknowledges it here: what is over is at rest
  if (moved.happened.includes('returned')) return { next: null, message: tell('over', since ?? now) };
  return { next: moved.life.condition === 'absent' ? null : is, message: null };
}

export const withoutSent = (state: WatcherState, id: string): WatcherState => ({
  ...state,
  unsent: state.unsent.filter((one) => one.id !== id),
});

/** Is all that can be told well, and nothing amiss under way? A sign of life says no less. */
export const isWell = ({ watching }: WatcherState, sights: Sights): boolean =>
  Object.keys(watching).length === 0 && WATCHED.every((watched) => sights[watched].kind !== 'wrong');

/** What is behind at least so long makes inference wrong; the on-delay comes on top. */
export const INFERENCE_BEHIND = seconds(300);
/** Ingest marks what it watches every 10 s at the least (architecture 4); so long without a mark is silence. */
export const INGEST_SILENT = seconds(60);
