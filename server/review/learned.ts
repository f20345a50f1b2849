import type { Queries } from '../../db/pool.ts';
import { readDips, readRunsAt } from '../../db/read-review.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { controlRatio, marginOf, type VoltagePair } from '../../shared/review/margin.ts';
import { susceptibilityOf } from '../../shared/review/susceptibility.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';
import type { Panel, Unit } from '../../shared/telemetry/site.ts';
import type { AnalogSeries } from '../../shared/wire/series.ts';
import { readInstant } from '../../shared/wire/standing-wire.ts';
import type { Learned } from '../../shared/wire/review-wire.ts';
import { readAnalog } from '../series/analog.ts';
import type { Reviewed } from './read-sites.ts';

/** What telemetry has shown of a site's units: their control voltage's ratio, and what dips did to them. */
const RATIO_STRETCH = seconds(86_400);
/** of the day before, a value a minute */
const RATIO_WIDTH = 1440;
const DIPS_BOUND = 200;

export async function readLearned(
  queries: Queries,
  { setup, site, review }: Reviewed,
  end: Instant,
): Promise<ReadonlyMap<string, Learned>> {
  const start = review.share.start.earliest;
  const panels = review.share.panels;
  const dips = await readDips(queries, { site: site.id, panels, before: end, limit: DIPS_BOUND });
  const runs = await runsAt(queries, site.id, dips);
  const learned = new Map<string, Learned>();
  for (const panel of site.panels.filter(({ id }) => panels.includes(id))) {
    const line = panel.points.find(({ signal }) => signal.startsWith('line-voltage'))?.signal;
    const before = { from: start - RATIO_STRETCH, to: start };
    const lines = line ? await readVoltage(queries, setup, panel.id, line, before) : null;
    const own = dips.map((dip, i) => ({ dip, runs: runs[i]! })).filter(({ dip }) => dip.panel === panel.id);
    for (const unit of site.units.filter((one) => one.panel === panel.id)) {
      const control = lines ? await readVoltage(queries, setup, unit.id, 'control-voltage', before) : null;
      const of = own.map(({ dip, runs: all }) => ({
        dip,
        events: all.filter((run) => run.unit === unit.id),
      }));
      learned.set(unit.id, {
        margin: marginIn(unit, panel, lines, control),
        susceptibility: susceptibilityOf(unit, of),
      });
    }
  }
  return learned;
}

async function runsAt(queries: Queries, site: string, dips: readonly EventDraft[]): Promise<EventDraft[][]> {
  const found: EventDraft[][] = dips.map(() => []);
  if (dips.length === 0) return found;
  const stretches = dips.map(({ start, end }) => ({ from: start.earliest, to: end?.latest ?? start.latest }));
  for (const { place, event } of await readRunsAt(queries, site, stretches)) found[place]!.push(event);
  return found;
}

async function readVoltage(
  queries: Queries,
  setup: Reviewed['setup'],
  device: string,
  signal: SignalName,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<AnalogSeries | null> {
  const pointId = setup.ids.points.get(`${device}/${signal}`);
  const site = setup.history.at(-1)?.site;
  const point = [...(site?.units ?? []), ...(site?.panels ?? [])]
    .flatMap(({ points }) => points)
    .find((one) => one.device === device && one.signal === signal);
  if (pointId === undefined || !point) return null;
  const drawn = {
    history: setup.history,
    point,
    pointId,
    stretch,
    width: RATIO_WIDTH,
    unknown: [],
    knownThrough: null,
  };
  return readAnalog(queries, drawn);
}

/** Pairs at the control voltage's readings, each with the line's newest before it. */
function marginIn(unit: Unit, panel: Panel, line: AnalogSeries | null, control: AnalogSeries | null) {
  if (!line || !control) return null;
  const times = line.t.map(readInstant);
  const pairs = control.t.flatMap((text, i): VoltagePair[] => {
    const at = times.findLastIndex((t) => t <= readInstant(text) + seconds(1));
    return at < 0 ? [] : [{ line: line.mean[at]!, control: control.mean[i]! }];
  });
  const ratio = controlRatio(pairs, panel.nominalVoltage);
  return ratio === null ? null : marginOf(unit, ratio, panel.nominalVoltage);
}
