import type { Queries } from '../../db/pool.ts';
import { readEvents } from '../../db/read-events.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { overlap, shifted, type Span } from '../../shared/base/span.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { seenStart, type SeenStart, type VoltageSample } from '../../shared/power/seen-start.ts';
import type { SteadyLevel } from '../../shared/power/steady-level.ts';
import { LINE_VOLTAGES } from '../../shared/recorder/propose-voltages.ts';
import type { Panel, Point, Site, Unit } from '../../shared/telemetry/site.ts';
import type { Setup } from '../follow/setup.ts';
import { readSteadyLevel } from './read-level.ts';
import { readAround, widened } from './start-readings.ts';

/**
 * The starts on a panel over a stretch of time as its meters saw them: from the runs that inference found, the line voltage
 * around each, and each starting unit's own control voltage. The newest so many of each unit; more tell nothing new.
 */
export interface PanelStart {
  readonly event: string;
  readonly unit: Unit;
  readonly at: Span;
  readonly cause: EventDraft['cause'];
  readonly endsAt: Span | null;
  readonly seen: SeenStart;
  /** another motor of the panel started within seconds, or the generator carried it: not fitted */
  readonly beside: 'alone' | 'together' | 'generator';
  readonly line: readonly VoltageSample[];
  readonly control: readonly VoltageSample[];
}

export interface PanelStarts {
  readonly linePoint: Point | null;
  readonly starts: readonly PanelStart[];
  /** of the whole stretch; null: nothing steady was read */
  readonly level: SteadyLevel | null;
}

const EACH_UNIT = 40;
const MOST_EVENTS = 4000;
/** Motors that start so close pull together. */
const TOGETHER = seconds(2);

export async function readPanelStarts(
  queries: Queries,
  setup: Setup,
  site: Site,
  panel: Panel,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<PanelStarts> {
  const linePoint =
    LINE_VOLTAGES.flatMap((signal) => panel.points.find((point) => point.signal === signal) ?? [])[0] ?? null;
  const units = site.units.filter((unit) => unit.panel === panel.id);
  const runs = await readRuns(queries, setup.id, panel.id, stretch);
  const onGenerator = await readGenerator(queries, setup.id, panel.id, stretch);
  const newest = units.flatMap((unit) =>
    runs
      .filter((run) => run.unit === unit.id)
      .slice(-EACH_UNIT)
      .map((run) => ({ unit, run })),
  );
  const spans = newest.map(({ unit, run }) =>
    linePoint === null ? run.start : widened(site, run.start, gatewayOfRuns(unit), linePoint.gateway),
  );
  const lines = linePoint === null ? spans.map(() => []) : await readAround(queries, setup, linePoint, spans);
  const controls = await readControls(
    queries,
    setup,
    newest.map(({ unit }) => unit),
    newest.map(({ run }) => run.start),
  );
  const deadband = linePoint?.reporting.mode === 'on-change' ? linePoint.deadband : null;
  const starts = newest.map(({ unit, run }, i): PanelStart => ({
    ...{ event: run.id, unit, at: run.start, cause: run.cause, endsAt: run.end },
    seen: seenStart({
      start: spans[i]!,
      samples: lines[i]!,
      deadband: isDense(lines[i]!, spans[i]!) ? null : deadband,
    }),
    beside: besideOf(run, runs, onGenerator),
    line: lines[i]!,
    control: controls[i]!,
  }));
  return { linePoint, starts, level: await readSteadyLevel(queries, setup, panel, stretch) };
}

/** A recording lies over the start: its half-cycle values show the dip whatever the point's own reporting is. */
const DENSE = 30;
const isDense = (samples: readonly VoltageSample[], { earliest, latest }: Span): boolean =>
  samples.filter(({ t }) => t >= earliest - seconds(0.5) && t <= latest + seconds(1)).length > DENSE;

const RUNS_BY = ['compressor-output', 'contactor-voltage', 'compressor-current'];
const gatewayOfRuns = ({ points }: Unit): string | null =>
  RUNS_BY.flatMap((signal) => points.find((point) => point.signal === signal)?.gateway ?? [])[0] ?? null;

function besideOf(
  run: EventDraft,
  runs: readonly EventDraft[],
  onGenerator: readonly EventDraft[],
): PanelStart['beside'] {
  const around = { earliest: run.start.earliest - TOGETHER, latest: run.start.latest + TOGETHER };
  if (
    onGenerator.some(
      ({ start, end }) => start.earliest <= around.latest && (end === null || end.latest >= around.earliest),
    )
  )
    return 'generator';
  return runs.some((other) => other.unit !== run.unit && overlap(other.start, around)) ? 'together' : 'alone';
}

const listed = { only: null, space: null, unit: null, after: null, limit: MOST_EVENTS } as const;

async function readRuns(
  queries: Queries,
  site: string,
  panel: string,
  { from, to }: { from: Instant; to: Instant },
): Promise<EventDraft[]> {
  const kept = await readEvents(queries, { ...listed, site, panel, kinds: ['compressor-run'], from, to });
  return kept.map(({ event }) => event).filter(({ start }) => start.earliest >= from);
}

async function readGenerator(
  queries: Queries,
  site: string,
  panel: string,
  { from, to }: { from: Instant; to: Instant },
): Promise<EventDraft[]> {
  const kept = await readEvents(queries, {
    ...listed,
    site,
    panel: null,
    kinds: ['generator-supply'],
    from,
    to,
  });
  return kept.map(({ event }) => event).filter((event) => event.panel === null || event.panel === panel);
}

/** Each starting unit's own control voltage around its start. */
async function readControls(
  queries: Queries,
  setup: Setup,
  units: readonly Unit[],
  spans: readonly Span[],
): Promise<(readonly VoltageSample[])[]> {
  const found: (readonly VoltageSample[])[] = units.map(() => []);
  for (const unit of new Set(units)) {
    const point = unit.points.find(({ signal }) => signal === 'control-voltage');
    const places = units.flatMap((one, i) => (one === unit ? [i] : []));
    if (!point) continue;
    const read = await readAround(
      queries,
      setup,
      point,
      places.map((i) => shifted(spans[i]!, 0)),
    );
    for (const [k, i] of places.entries()) found[i] = read[k]!;
  }
  return found;
}
