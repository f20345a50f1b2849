import { readNextDue } from '../../db/escalations.ts';
import { inSeconds } from '../../shared/base/instant.ts';
import { makeBell, rest } from '../bell.ts';
import { deliverOne, type Delivered, type Sender } from './deliver.ts';
import { takeEscalation, type Decider, type Taken } from './take-escalation.ts';

/**
 * Tells people: decides what is due, then sends what is due, over and over, woken by whoever writes a row and in any case
 * when the next one is due. Any number of these may share a database.
 */
export interface Notifier {
  nudge(): void;
  stop(): Promise<void>;
}

export type NotifyObservation =
  | { readonly kind: 'decided'; readonly taken: Taken }
  | { readonly kind: 'sent'; readonly delivered: Delivered }
  | { readonly kind: 'failed'; readonly what: 'decide' | 'deliver' | 'look'; readonly error: unknown };

export interface NotifierOptions {
  readonly decider: Decider;
  readonly sender: Sender;
  readonly observe: (observation: NotifyObservation) => void;
}

/** in any case, so that a lost nudge, or a clock that was set, costs no more than this */
const LOOK_EVERY_MS = 2_000;
const REST_AFTER_ERROR_MS = 1_000;
/** messages on their way at a time: a slow channel doesn't hold up the others */
const SENDERS = 4;

export function startNotifier({ decider, sender, observe }: NotifierOptions): Notifier {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  const runs = [
    repeat('decide', async () => {
      const taken = await takeEscalation(decider);
      if (taken !== null) {
        observe({ kind: 'decided', taken });
        bell.ring();
      }
      return taken !== null;
    }),
    ...Array.from({ length: SENDERS }, () =>
      repeat('deliver', async () => {
        const delivered = await deliverOne(sender);
        if (delivered !== null) observe({ kind: 'sent', delivered });
        return delivered !== null;
      }),
    ),
  ];

  /** Does one thing after another until there is none, then waits. */
  async function repeat(what: 'decide' | 'deliver', one: () => Promise<boolean>): Promise<void> {
    while (!stopping.signal.aborted) {
      const rung = bell.next();
      try {
        if (await one()) continue;
        await rest(await untilNext(), rung);
      } catch (error) {
        observe({ kind: 'failed', what, error });
        await rest(REST_AFTER_ERROR_MS, bell.ended);
      }
    }
  }

  async function untilNext(): Promise<number> {
    const at = await readNextDue(decider.database);
    const milliseconds = at === null ? LOOK_EVERY_MS : inSeconds(at - decider.now()) * 1000;
    return Math.min(LOOK_EVERY_MS, Math.max(20, milliseconds));
  }

  return {
    nudge: () => bell.ring(),
    async stop() {
      stopping.abort();
      await Promise.all(runs);
      await Promise.all(Object.values(sender.channels).map((channel) => channel.close()));
    },
  };
}
