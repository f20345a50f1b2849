import { seconds } from '../../shared/base/instant.ts';
import type { Bounds } from '../../shared/base/span.ts';
import { adviseGrace } from '../../shared/power/start-grace.ts';
import { dropLineOf } from '../../shared/power/start-prediction.ts';
import type { Panel, Point, Unit } from '../../shared/telemetry/site.ts';
import type { UnitStarts } from '../../shared/wire/starting-dips-answer.ts';
import { graceText } from '../../shared/wire/starting-dips-sentences.ts';
import { ampsOf } from './motors.ts';
import type { PanelStart, PanelStarts } from './read-starting-dips.ts';
import { valueAt } from './start-readings.ts';

/** What the starts told of one unit: how hard it pulls, at which line voltage its control lets go, its grace. */
export interface UnitFacts {
  readonly unit: UnitStarts;
  readonly dropLine: Bounds | null;
}

export function factsOf(unit: Unit, panel: Panel, { starts, linePoint }: PanelStarts): UnitFacts {
  const own = starts.filter((start) => start.unit.id === unit.id);
  const dips = own.flatMap(({ seen }) => (seen.kind === 'seen' ? [1 - seen.during / seen.before] : []));
  const ratio = ratioOf(unit, own, linePoint);
  const trip = unit.protection.undervoltageTrip.value;
  const dropLine = ratio === null || trip === null ? null : dropLineOf(trip, ratio);
  const now = unit.protection.undervoltageStartGrace.value;
  const advice = adviseGrace(
    own.map((start) => ({ start: start.at, samples: start.control, dropped: hasDropped(start) })),
    trip,
    controlEvery(unit),
  );
  return {
    dropLine,
    unit: {
      id: unit.id,
      name: unit.name,
      starts: own.length,
      dip: dips.length === 0 ? null : [Math.min(...dips), Math.max(...dips)],
      lockedRotorAmps: ampsOf(unit, panel),
      tripVolts: trip,
      ratio,
      dropLine,
      grace: {
        kind: advice.kind,
        why: advice.kind === 'refused' ? advice.why : null,
        seconds: advice.kind === 'suggested' ? advice.seconds : null,
        longest: advice.kind === 'none-needed' ? null : advice.longest,
        starts: advice.starts,
        now,
        says: graceText(advice, now),
      },
    },
  };
}

/** s between readings; 0 where each change is reported, infinite where it isn't wired. */
function controlEvery({ points }: Unit): number {
  const point = points.find(({ signal }) => signal === 'control-voltage');
  if (!point) return Infinity;
  return point.reporting.mode === 'polled' ? point.reporting.seconds : 0;
}

const DROPS_WITHIN = seconds(10);
const hasDropped = ({ cause, at, endsAt }: PanelStart): boolean =>
  cause === 'undervoltage' && endsAt !== null && endsAt.earliest - at.latest < DROPS_WITHIN;

/** Control voltage over line voltage a few seconds after own starts, with the coil drawn (handbook 5.2). */
function ratioOf(unit: Unit, own: readonly PanelStart[], line: Point | null): Bounds | null {
  const control = unit.points.find(({ signal }) => signal === 'control-voltage');
  if (!control || !line) return null;
  const ratios = own.flatMap((start) => {
    const at = start.at.latest + seconds(5);
    if (start.endsAt !== null && start.endsAt.earliest <= at) return [];
    const [low, high] = [valueAt(start.control, at, control), valueAt(start.line, at, line)];
    return low !== null && high !== null && high > 0 && low > 5 ? [low / high] : [];
  });
  if (ratios.length === 0) return null;
  const sorted = ratios.sort((a, b) => a - b);
  const rank = (share: number) => sorted[Math.round(share * (sorted.length - 1))]!;
  return [rank(0.05), rank(0.95)];
}
