import { commitBatch, EMPTY_BATCH, type CommitBatch } from '../../db/commit.ts';
import { readFloor } from '../../db/floor.ts';
import { readConfigurationRevision } from '../../db/site-history.ts';
import { formatInstant, parseInstant, type Instant } from '../../shared/base/instant.ts';
import { clockShifts, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import {
  BAD,
  CONFLICT,
  FUTURE,
  GOOD,
  mergeSamples,
  UNCERTAIN,
  type Sample,
} from '../../shared/telemetry/sample.ts';
import type { ImportAnswer, ImportAsk, ImportRow } from '../../shared/wire/import-wire.ts';
import { corrected } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';

/**
 * Rows of a file taken into the record by the same commit as telemetry: compared with the configuration's revision, merged
 * as a join (twice is once), and whoever folds their points is woken. Rows that can't be taken come back with why, and
 * stop nothing else.
 */
export interface Taking {
  readonly ask: ImportAsk;
  readonly now: Instant;
  /** the site as configured now; asked again where the configuration moves meanwhile */
  readonly readSetup: () => Promise<Setup>;
}

export async function takeSamples(
  database: Parameters<typeof commitBatch>[0],
  { ask, now, readSetup }: Taking,
): Promise<ImportAnswer> {
  for (;;) {
    const revision = await readConfigurationRevision(database);
    const floor = (await readFloor(database))?.at ?? -Infinity;
    const { batch, faults } = batchOf(await readSetup(), ask.rows, { now, floor });
    const taken = ask.rows.length - faults.length;
    if (ask.dryRun || taken === 0) return { taken, changed: 0, faults };
    const outcome = await commitBatch(database, { ...EMPTY_BATCH, ...batch, revision });
    if (outcome.kind === 'committed') return { taken, changed: outcome.changed + outcome.lives, faults };
  }
}

type Kept = Sample & { readonly pointId: number };
interface Judged {
  readonly batch: Pick<CommitBatch, 'samples' | 'lives'>;
  readonly faults: ImportAnswer['faults'];
}

interface Bounds {
  readonly now: Instant;
  /** what was before it comes too late */
  readonly floor: Instant;
}

function batchOf(setup: Setup, rows: readonly ImportRow[], bounds: Bounds): Judged {
  const faults: ImportAnswer['faults'] = [];
  const shifts = new Map<string, readonly ClockShift[]>();
  const kept = { samples: new Map<string, Kept>(), lives: new Map<string, Kept>() };
  for (const [row, { point, t: text, v: value, q, conflict }] of rows.entries()) {
    const pointId = setup.ids.points.get(point);
    const t = parseInstant(text);
    const known = shifts.get(point) ?? clockShifts(setup.history, point);
    shifts.set(point, known);
    const says = faultOf({ site: setup.id, point, pointId, t, text, shifts: known, ...bounds });
    if (says !== null || pointId === undefined || t === null) {
      faults.push({ row, says: says! });
      continue;
    }
    const into = point.endsWith('/life') ? kept.lives : kept.samples;
    const key = `${pointId}@${t}`;
    const before = into.get(key);
    const one = { t, value, quality: qualityOf(q, conflict) };
    into.set(key, { pointId, ...(before ? mergeSamples(before, one) : one) });
  }
  const lives = inOrder(kept.lives);
  const samples = inOrder(kept.samples);
  return { batch: { samples: columnsOf(samples), lives: columnsOf(lives) }, faults };
}

interface Placed extends Bounds {
  readonly site: string;
  readonly point: string;
  readonly pointId: number | undefined;
  readonly t: Instant | null;
  readonly text: string;
  readonly shifts: readonly ClockShift[];
}

function faultOf({ site, point, pointId, t, text, shifts, now, floor }: Placed): string | null {
  if (t === null) return `"${text}" is no time: give ISO 8601 with its zone, as 2026-03-02T08:15:00.250Z.`;
  if (pointId === undefined)
    return `${site} has no point ${point}: put it into the site’s configuration and import the line again.`;
  if (corrected(shifts, t) > now + FUTURE)
    return `${text} lies more than 5 minutes ahead: mend the time, or import the line once it has come.`;
  if (corrected(shifts, t) < floor)
    return `${text} lies before ${formatInstant(floor)}, the oldest instant that is retained here.`;
  return null;
}

function qualityOf(q: ImportRow['q'], conflict = false): number {
  const level = q === 'bad' ? BAD : q === 'uncertain' ? UNCERTAIN : GOOD;
  return conflict ? Math.max(level, UNCERTAIN) | CONFLICT : level;
}

const inOrder = (kept: ReadonlyMap<string, Kept>): Kept[] =>
  [...kept.values()].sort((a, b) => a.pointId - b.pointId || a.t - b.t);

const columnsOf = (rows: readonly Kept[]) => ({
  length: rows.length,
  pointId: rows.map(({ pointId }) => pointId),
  t: rows.map(({ t }) => t),
  value: rows.map(({ value }) => value),
  quality: rows.map(({ quality }) => quality),
});
