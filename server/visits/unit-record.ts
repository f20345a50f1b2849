import type { Queries } from '../../db/pool.ts';
import { readIsPending } from '../../db/alarms.ts';
import { readEvents } from '../../db/read-events.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';
import type { Unit } from '../../shared/telemetry/site.ts';
import type { EventDraft, EventKind } from '../../shared/inference/event.ts';
import { readInstant } from '../../shared/wire/standing-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { allPoints } from '../series/pieces.ts';
import { readKnown, readSeries } from '../series/read-series.ts';

/** What a unit did over a stretch of days, and how warm it was outdoors: what hints and a watched repair are made from. */
export interface UnitRecord {
  /** oldest first */
  readonly events: readonly EventDraft[];
  /** °C at an instant, as last measured within the hour before; null: not measured */
  readonly outdoorsAt: (at: Instant) => number | null;
  readonly outdoorsMeasured: boolean;
}

const KINDS: readonly EventKind[] = [
  'compressor-run',
  'soft-lockout',
  'hard-lockout',
  'lockout-reset',
  'undervoltage-hold',
  'power-loss',
  'short-cycle',
  'failed-start',
  'stuck-contactor',
];
const EVENTS_BOUND = 5_000;

export async function readUnitRecord(
  queries: Queries,
  setup: Setup,
  unit: string,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Promise<UnitRecord> {
  const kept = await readEvents(queries, {
    only: null,
    site: setup.id,
    space: null,
    panel: null,
    unit,
    kinds: KINDS,
    from,
    to,
    after: null,
    limit: EVENTS_BOUND,
  });
  const outdoors = await readOutdoors(queries, setup, { from, to });
  return {
    events: kept.map(({ event }) => event),
    outdoorsAt: (at) => lastBefore(outdoors, at),
    outdoorsMeasured: outdoorPoints(setup).length > 0,
  };
}

const RUNS_SHOWN: readonly SignalName[] = ['compressor-output', 'contactor-voltage', 'compressor-current'];

/**
 * Through when it is known whether the unit runs: at least what its fold has said. Where nothing has changed for hours nothing
 * was folded either, and what its runs are read from is known through the life of its gateway. Null: not known now.
 */
export async function readKnownRuns(
  queries: Queries,
  setup: Setup,
  unit: Unit,
  folded: Instant | null,
): Promise<Instant | null> {
  if (folded === null || (await readIsPending(queries, setup.id))) return folded;
  const point = RUNS_SHOWN.flatMap((signal) => unit.points.find((one) => one.signal === signal) ?? [])[0];
  const id = point && setup.ids.points.get(`${point.device}/${point.signal}`);
  if (!point || id === undefined) return folded;
  const known = (await readKnown(queries, setup, [point]))(point, id);
  return Math.max(folded, known ?? folded);
}

const outdoorPoints = (setup: Setup) =>
  allPoints(setup.history.at(-1)!.site).filter(({ signal }) => signal === 'outdoor-temperature');

interface Measured {
  readonly t: Instant;
  readonly value: number;
}

const PIXEL = seconds(600);
const AN_HOUR = seconds(3600);

async function readOutdoors(
  queries: Queries,
  setup: Setup,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<Measured[]> {
  const width = Math.max(1, Math.ceil((stretch.to - stretch.from) / PIXEL));
  const [series] = await readSeries(queries, setup, outdoorPoints(setup).slice(0, 1), stretch, width);
  if (series?.kind !== 'analog') return [];
  return series.t.map((t, i) => ({ t: readInstant(t), value: series.mean[i]! }));
}

function lastBefore(measured: readonly Measured[], at: Instant): number | null {
  const found = measured.findLast(({ t }) => t <= at);
  return found && at - found.t <= AN_HOUR ? found.value : null;
}
