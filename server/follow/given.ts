import { groupedBy } from '../../shared/base/grouped.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { readUndecidedEdges, type EdgeRow } from '../../db/follow-edges.ts';
import { readUndecidedEvents, type EventRow } from '../../db/follow-events.ts';
import { readRefolds, type Refold } from '../../db/follow-refolds.ts';
import { readCheckpointThroughs, readStates, type StoredState } from '../../db/follow-states.ts';
import {
  readSiteClocks,
  readWork,
  type Clocks,
  type DueSubject,
  type TakenWork,
} from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readRecord, type RecordSource } from '../../db/record.ts';
import { readWatch } from '../../db/watch-marks.ts';
import type { WatchCoverage } from '../../shared/inference/watch.ts';
import type { Setup, Setups } from './setup.ts';

/**
 * What subjects of one transaction have in common, each thing asked once: under repeatable read it can't change before the
 * transaction ends. Nothing that a step writes is among it.
 */
export interface Snapshot {
  setup(site: string): Promise<Setup | null>;
  watch(): Promise<WatchCoverage>;
  /** as the gateways claim them */
  clocks(site: string): Promise<Clocks>;
  /** the earliest row of a gateway's point `life` after an instant; Infinity: there is none */
  lifeAfter(source: RecordSource, after: Instant): Promise<Instant>;
}

export function snapshotOf(queries: Queries, setups: Setups): Snapshot {
  const once = makeOnce();
  return {
    setup: (site) => once(`setup ${site}`, () => setups.read(queries, site)),
    watch: () => once('watch', () => readWatch(queries, -Infinity)),
    clocks: (site) => once(`clocks ${site}`, () => readSiteClocks(queries, site)),
    lifeAfter: (source, after) =>
      once(`life ${source.pointId} ${after}`, async () => {
        const { page } = await readRecord(queries, [source], after, 1);
        return page.length > 0 ? page.t[0]! : Infinity;
      }),
  };
}

function makeOnce(): <T>(key: string, ask: () => Promise<T>) => Promise<T> {
  const asked = new Map<string, unknown>();
  return async <T>(key: string, ask: () => Promise<T>): Promise<T> => {
    if (!asked.has(key)) asked.set(key, await ask());
    return asked.get(key) as T;
  };
}

/** What the store has of one subject before its step. */
export interface Given {
  readonly work: TakenWork;
  readonly stored: StoredState | null;
  readonly refold: Refold | null;
  /** those that aren't decided yet */
  readonly events: readonly EventRow[];
  readonly edges: readonly EdgeRow[];
  /** through when its checkpoints reach, in rising order */
  readonly checkpoints: readonly Instant[];
  readonly snapshot: Snapshot;
}

export interface GivenAll {
  of(subject: DueSubject): Given;
  /** the greatest id among the work items */
  readonly lastItem: number;
}

const NO_WORK: TakenWork = { earliest: null, because: null, learnedAt: null };

/** Of several subjects, with as many questions as for one. */
export async function readGiven(
  queries: Queries,
  subjects: readonly DueSubject[],
  setups: Setups,
): Promise<GivenAll> {
  const ids = subjects.map(({ id }) => id);
  const work = await readWork(queries, ids);
  const states = await readStates(queries, ids);
  const refolds = await readRefolds(queries, ids);
  const events = groupedBy(await readUndecidedEvents(queries, ids), ({ id }) => id);
  const edges = groupedBy(await readUndecidedEdges(queries, ids), ({ id }) => id);
  const checkpoints = groupedBy(await readCheckpointThroughs(queries, ids), ({ id }) => id);
  const snapshot = snapshotOf(queries, setups);
  return {
    lastItem: work.last,
    of: ({ id }) => ({
      work: work.of.get(id) ?? NO_WORK,
      stored: states.get(id) ?? null,
      refold: refolds.get(id) ?? null,
      events: events.get(id) ?? [],
      edges: edges.get(id) ?? [],
      checkpoints: checkpoints.get(id)?.map(({ through }) => through) ?? [],
      snapshot,
    }),
  };
}
