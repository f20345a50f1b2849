import { lockAlarms, readDueAlarms, unlockAlarms } from '../../db/alarms.ts';
import type { Database, Session } from '../../db/pool.ts';
import type { Decision } from '../../shared/alarms/given.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { makeBell, rest } from '../bell.ts';
import type { Setups } from '../follow/setup.ts';
import { decideSite } from './step.ts';

/**
 * Looks which sites' alarms are to be decided on, and takes one step of each. Any number of processes may do so: a site's
 * advisory lock keeps two from one site. A look is due whenever something was saved (`nudge`), and every `pollMs` in any
 * case: deadlines come by themselves.
 */
export interface DecideOptions {
  readonly database: Database;
  readonly setups: Setups;
  readonly now: () => Instant;
  readonly pollMs?: number;
  readonly observe: (observation: DecideObservation) => void;
}

export type DecideObservation =
  | {
      readonly kind: 'decided';
      readonly site: string;
      readonly decision: Decision | null;
      readonly milliseconds: number;
    }
  | { readonly kind: 'decide-failed'; readonly site: string | null; readonly error: unknown };

export interface Decider {
  nudge(): void;
  /** comes back when no step is under way */
  stop(): Promise<void>;
}

const POLL_MS = 500;
const SITES_A_LOOK = 200;

export function startDecider(options: DecideOptions): Decider {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);

  async function run(): Promise<void> {
    while (!stopping.signal.aborted) {
      const rung = bell.next();
      try {
        if (await look(options, stopping.signal)) continue;
        await rest(options.pollMs ?? POLL_MS, rung);
      } catch (error) {
        options.observe({ kind: 'decide-failed', site: null, error });
        await rest(POLL_MS, bell.ended);
      }
    }
  }

  const running = run();
  return {
    nudge: () => bell.ring(),
    async stop() {
      stopping.abort();
      await running;
    },
  };
}

/** True: something was decided, so more may follow. */
async function look(options: DecideOptions, signal: AbortSignal): Promise<boolean> {
  const sites = await readDueAlarms(options.database, options.now(), SITES_A_LOOK);
  if (sites.length === 0) return false;
  let decided = false;
  await options.database.session(async (session) => {
    for (const site of sites) {
      if (signal.aborted) return;
      decided = (await decideOne(session, options, site)) || decided;
    }
  });
  return decided;
}

/** False: another process has the site, or it failed and is tried again after a while. */
async function decideOne(session: Session, options: DecideOptions, site: string): Promise<boolean> {
  if (!(await lockAlarms(session, site))) return false;
  const started = performance.now();
  try {
    const decision = await session.transaction({ name: 'decide', isolation: 'repeatable read' }, (queries) =>
      decideSite(queries, site, { setups: options.setups, now: options.now() }),
    );
    options.observe({ kind: 'decided', site, decision, milliseconds: performance.now() - started });
    return true;
  } catch (error) {
    options.observe({ kind: 'decide-failed', site, error });
    return false;
  } finally {
    await unlockAlarms(session, site);
  }
}
