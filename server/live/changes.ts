import { readBacklogs } from '../../db/follow-due.ts';
import { readClaimedClocks, type Clocks } from '../../db/follow-work.ts';
import { readChangedAlarms, type KeptAlarm } from '../../db/read-alarms.ts';
import { readChanges, readSeen, type KeptEvent, type StandingRow } from '../../db/read-status.ts';
import { makeBell, rest } from '../bell.ts';
import { correctClocks } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { SITES_KEPT } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';

/** What has changed since the last look, in any process that shares the database. */
export interface Change {
  readonly standings: readonly StandingRow[];
  readonly events: readonly KeptEvent[];
  readonly alarms: readonly KeptAlarm[];
  /** as they are now */
  readonly setups: readonly Setup[];
  readonly clocks: Clocks;
  readonly pending: ReadonlyMap<string, number>;
  /** more than one look can give: whoever listens must fetch everything again */
  readonly overrun: boolean;
}

export interface ChangeWatch {
  nudge(): void;
  stop(): Promise<void>;
}

const CHANGES_BOUND = 5_000;
/** In any case, so that a lost notice costs a moment only. */
const LOOK_EVERY_MS = 1_000;
/** Between two looks, so that a burst of commits is one. */
const REST_MS = 15;
/** Under load looking takes long: so many times as long as it took beyond this is rested, too. */
const QUICK_MS = 20;
const LOOKS_SPARED = 4;

/**
 * Looks for changes whenever it is nudged, and gives each of them once: a row is known by its version or revision, for a
 * look sees again what a transaction saved that was still open at the look before.
 */
export function watchChanges(
  service: Service,
  give: (change: Change) => Promise<void> | void,
  failed: (error: unknown) => void,
): ChangeWatch {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  const given = new Given();

  async function run(): Promise<void> {
    let seen: string | null = null;
    while (!stopping.signal.aborted) {
      const rung = bell.next();
      const started = performance.now();
      try {
        seen = await look(seen);
      } catch (error) {
        failed(error);
      }
      const beyond = Math.max(0, performance.now() - started - QUICK_MS);
      await rest(REST_MS + LOOKS_SPARED * beyond, bell.ended);
      await rest(LOOK_EVERY_MS, rung);
    }
  }

  async function look(since: string | null): Promise<string> {
    if (since === null) return readSeen(service.database);
    const change = await readAll(service, since);
    const fresh = given.fresh(change);
    await give({ ...change, ...fresh });
    return change.seen;
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

const readAll = (service: Service, since: string) =>
  inSnapshot(service.database, async (queries) => {
    const changes = await readChanges(queries, since, CHANGES_BOUND);
    const alarms = await readChangedAlarms(queries, since, CHANGES_BOUND);
    const setups = await service.setups.readMany(queries, '', SITES_KEPT);
    const clocks = correctClocks(await readClaimedClocks(queries), service.setups.known);
    const overrun = changes.overrun || alarms.length >= CHANGES_BOUND;
    return { ...changes, alarms, overrun, setups, clocks, pending: await readBacklogs(queries, clocks) };
  });

type Fresh = Pick<Change, 'standings' | 'events' | 'alarms'>;

/** What the last looks gave: only as much as the next can see again. */
class Given {
  #before = new Map<string, number>();

  fresh(change: Fresh): Fresh {
    const now = new Map<string, number>();
    const isFresh = (key: string, version: number): boolean => {
      now.set(key, version);
      return this.#before.get(key) !== version;
    };
    const fresh = {
      standings: change.standings.filter(({ subjectId, version }) => isFresh(`s${subjectId}`, version)),
      events: change.events.filter(({ event, revision }) => isFresh(event.id, revision)),
      alarms: change.alarms.filter(({ alarm, version }) => isFresh(`a${alarm.id}`, version)),
    };
    this.#before = now;
    return fresh;
  }
}
