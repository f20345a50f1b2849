import { randomUUID } from 'node:crypto';
import { inSeconds, type Instant } from '../../shared/base/instant.ts';
import { replaySite, subjectsIn } from '../../shared/replay/replay-site.ts';
import type { ReplayAnswer } from '../../shared/wire/replay-answer.ts';
import type { ReplayAsk } from '../../shared/wire/replay-ask.ts';
import { wireReplay } from '../../shared/wire/replay-wire.ts';
import { Refusal } from '../http/refusal.ts';
import type { Service } from '../service.ts';
import { answerAsks, TooManyRows } from './answer-asks.ts';
import { planReplay, type PlannedReplay } from './plan.ts';

/**
 * Replays under way and those done, by their ids: one runs at a time, a few wait, a few are kept for a while. A replay only
 * reads, and lives in this process alone: after a restart it is asked again.
 */
export interface Replays {
  /** refused where the question can't be answered, or too many wait already */
  ask(asked: ReplayAsk): Promise<ReplayAnswer>;
  read(id: string): ReplayAnswer | null;
  /** stops it where it runs, forgets it where it is done; false: there is none */
  cancel(id: string): boolean;
  stop(): Promise<void>;
}

const MOST_WAITING = 8;
const KEPT = 16;
const KEPT_MS = 30 * 60_000;
/** all subjects together: half a minute or so */
const ROWS_BOUND = 20_000_000;

interface Replay {
  answer: ReplayAnswer;
  readonly planned: PlannedReplay;
  readonly stop: AbortController;
}

/** `failed` is told of what isn’t expected. */
export function makeReplays(service: Service, failed: (error: unknown) => void): Replays {
  const replays = new Map<string, Replay>();
  const forgetting = new Map<string, NodeJS.Timeout>();
  let running: Promise<void> | null = null;

  const forget = (id: string): void => {
    clearTimeout(forgetting.get(id));
    forgetting.delete(id);
    replays.delete(id);
  };
  const over = (id: string): void => {
    forgetting.set(id, setTimeout(() => forget(id), KEPT_MS).unref());
    const done = [...replays.values()].filter(({ answer }) => isOver(answer));
    for (const { answer } of done.slice(0, Math.max(0, done.length - KEPT))) forget(answer.id);
  };
  const runAll = async (): Promise<void> => {
    for (;;) {
      const next = [...replays.values()].find(({ answer }) => answer.state === 'waiting');
      if (!next) break;
      await runOne(service, next).catch(failed);
      if (replays.has(next.answer.id)) over(next.answer.id);
    }
    running = null;
  };

  return {
    async ask(asked) {
      refuseWhenFull(replays);
      const planned = await planReplay(service, asked);
      refuseWhenFull(replays);
      const id = randomUUID();
      const answer: ReplayAnswer = { id, state: 'waiting', progress: 0, asked, says: null, result: null };
      replays.set(id, { answer, planned, stop: new AbortController() });
      running ??= runAll();
      return replays.get(id)!.answer;
    },
    read: (id) => replays.get(id)?.answer ?? null,
    cancel(id) {
      const replay = replays.get(id);
      if (!replay) return false;
      replay.stop.abort();
      if (replay.answer.state !== 'running') forget(id);
      return true;
    },
    async stop() {
      for (const { stop } of replays.values()) stop.abort();
      for (const { answer } of [...replays.values()]) if (answer.state !== 'running') forget(answer.id);
      await running;
      for (const timer of forgetting.values()) clearTimeout(timer);
    },
  };
}

const isOver = ({ state }: ReplayAnswer): boolean => state !== 'waiting' && state !== 'running';

function refuseWhenFull(replays: ReadonlyMap<string, Replay>): void {
  const waiting = [...replays.values()].filter(({ answer }) => answer.state === 'waiting').length;
  if (waiting < MOST_WAITING) return;
  throw new Refusal(
    'too-many-requests',
    `${waiting} replays wait already. Try again when one of them is done, or cancel one.`,
  );
}

async function runOne(service: Service, replay: Replay): Promise<void> {
  const { planned, stop } = replay;
  const { plan, setup } = planned;
  const { database } = service;
  const say = (more: Partial<ReplayAnswer>) => (replay.answer = { ...replay.answer, ...more });
  say({ state: 'running' });
  const progress = progressOf(plan.from, plan.to, subjectsIn(plan));
  try {
    const result = await answerAsks(replaySite(plan), {
      database,
      ids: setup.ids,
      signal: stop.signal,
      rowsBound: ROWS_BOUND,
      came: (ask) => say({ progress: Math.max(replay.answer.progress, progress(ask.kind, atOf(ask))) }),
    });
    say({ state: 'done', progress: 1, result: wireReplay(plan, result, service.now()) });
  } catch (error) {
    if (stop.signal.aborted) return void say({ state: 'cancelled', says: 'It was cancelled.' });
    say({ state: 'failed', says: failure(error) });
    if (!(error instanceof TooManyRows)) throw error;
  }
}

const atOf = (ask: { readonly kind: string; readonly at?: Instant; readonly after?: Instant }): Instant =>
  ask.at ?? ask.after ?? -Infinity;

/** Subjects come one after the other; within one, its rows come in time order. */
function progressOf(from: Instant, to: Instant, subjects: number): (kind: string, at: Instant) => number {
  let begun = 0;
  return (kind, at) => {
    if (kind === 'opening') begun++;
    const within = Math.min(1, Math.max(0, inSeconds(at - from) / inSeconds(to - from)));
    return Math.min(0.99, (Math.max(0, begun - 1) + within) / Math.max(1, subjects));
  };
}

function failure(error: unknown): string {
  if (error instanceof TooManyRows)
    return `It came to more than ${ROWS_BOUND.toLocaleString('en')} samples: give a shorter stretch, or fewer units.`;
  return 'It failed, and that is in the log. Try again in a moment.';
}
