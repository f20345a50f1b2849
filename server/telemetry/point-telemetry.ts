import type { PointTelemetryRow } from '../../db/read-telemetry.ts';
import { formatInstant, inSeconds, type Instant } from '../../shared/base/instant.ts';
import { clockShifts } from '../../shared/telemetry/clock-shifts.ts';
import { qualityWord } from '../../shared/telemetry/sample.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Point } from '../../shared/telemetry/site.ts';
import type { PointTelemetry } from '../../shared/wire/telemetry.ts';
import { corrected } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { shownValue } from '../series/shown-value.ts';

export interface PointFacts {
  readonly point: Point;
  /** null: it isn't silent */
  readonly silentSince: Instant | null;
  readonly isNever: boolean;
}

interface Waited {
  readonly t: Instant;
  readonly value: number;
}

const RECENT_MINUTES = 10;

/** A point: what it said last, how often it says something, and how much of it was odd. */
export function pointTelemetry(
  setup: Setup,
  { point, silentSince, isNever }: PointFacts,
  row: PointTelemetryRow | undefined,
  waited: Waited | undefined,
): PointTelemetry {
  const { device, signal, gateway, reporting } = point;
  const { kind, measure } = signalRow(signal);
  const shifts = clockShifts(setup.history, `${device}/${signal}`);
  const at = (t: Instant) => formatInstant(corrected(shifts, t));
  const value = (raw: number) => shownValue(point, raw);
  const { t = null, first = null } = row ?? {};
  return {
    site: setup.id,
    ...{ device, signal, gateway, measure },
    kind: kind === 'contact' ? 'contact' : 'analog',
    polledSeconds: reporting.mode === 'polled' ? reporting.seconds : null,
    state: isNever ? 'never' : silentSince === null ? 'heard' : 'silent',
    silentSince: silentSince === null || isNever ? null : formatInstant(silentSince),
    last: row && t !== null ? { t: at(t), v: value(row.value!), quality: qualityWord(row.quality!) } : null,
    lastHeard: waited ? { t: formatInstant(waited.t), v: value(waited.value) } : null,
    perMinute: (row?.recent ?? 0) / RECENT_MINUTES,
    day: {
      samples: row?.samples ?? 0,
      seconds: t === null || first === null ? 0 : inSeconds(t - first),
      uncertain: row?.uncertain ?? 0,
      bad: row?.bad ?? 0,
      conflicts: row?.conflicts ?? 0,
    },
  };
}

/** Some of what it said decides nothing. */
export const isOdd = ({ day }: PointTelemetry): boolean => day.uncertain + day.bad + day.conflicts > 0;
