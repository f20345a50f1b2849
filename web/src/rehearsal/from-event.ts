import { seconds, type Instant } from '../../../shared/base/instant.ts';
import { REFERENCE_SETTINGS, type ControlSettings } from '../../../shared/control/settings.ts';
import { NO_POWER_BELOW, type ControlInputs } from '../../../shared/control/state.ts';
import {
  QUIET_INPUTS,
  REHEARSAL_BOUNDS,
  type Rehearsal,
  type RehearsalStep,
} from '../../../shared/replay/rehearsal.ts';
import type { AnalogSeries, SeriesAnswer } from '../../../shared/wire/series.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { UnitSetting } from '../../../shared/wire/unit-view.ts';

/**
 * What was seen of a unit around an event, as the inputs of a rehearsal with the unit's settings. What isn't wired, or wasn't
 * known, is taken as well and quiet, and said: a rehearsal isn't evidence.
 */
export interface EventStretch {
  readonly from: Instant;
  readonly to: Instant;
}

export interface TakenFromEvent {
  readonly rehearsal: Rehearsal;
  /** what had to be assumed, in sentences */
  readonly assumed: readonly string[];
}

const BEFORE = seconds(1800);
const AFTER = seconds(600);
const LONGEST = seconds(6 * 3600);

export function stretchOf(start: Instant, end: Instant | null): EventStretch {
  const from = start - BEFORE;
  return { from, to: Math.min(from + LONGEST, (end ?? start) + AFTER) };
}

export function rehearsalFromEvent(
  { series }: Pick<SeriesAnswer, 'series'>,
  settings: readonly UnitSetting[],
  { from, to }: EventStretch,
): TakenFromEvent {
  const assumed: string[] = [];
  const picked = settingsOf(settings, assumed);
  const changes: RehearsalStep[] = [];
  const ms = (at: Instant) => Math.max(0, Math.round((at - from) / 1000));
  const contact = (signal: string, name: keyof ControlInputs): boolean => {
    const lane = series.find((one) => one.signal === signal);
    if (lane?.kind !== 'contact') return false;
    for (const [i, t] of lane.t.entries())
      changes.push({ at: ms(readInstant(t)), change: { [name]: lane.v[i] === 1 } });
    if (lane.unknown.length > 0)
      assumed.push(`Where ${lane.name.toLowerCase()} isn’t known it is taken to stay.`);
    return true;
  };
  if (!contact('cooling-call', 'call') && contact('compressor-output', 'call'))
    assumed.push('No call is wired: it is taken to be there while the output is on.');
  if (!contact('high-pressure', 'highPressureOpen'))
    assumed.push('No high-pressure contact: taken as closed.');
  if (!contact('low-pressure', 'lowPressureOpen')) assumed.push('No low-pressure contact: taken as closed.');
  const volts = series.find((one) => one.signal === 'control-voltage');
  if (volts?.kind === 'analog') changes.push(...voltages(volts, picked.undervoltageTrip, ms));
  else assumed.push('No control voltage: taken as healthy.');
  const merged = mergedSteps(changes);
  const opening = { ...QUIET_INPUTS, ...merged.find(({ at }) => at === 0)?.change };
  const steps = merged.filter(({ at }) => at > 0);
  if (steps.length > REHEARSAL_BOUNDS.steps)
    assumed.push(
      `More happened than a rehearsal holds: its first ${REHEARSAL_BOUNDS.steps} changes are taken.`,
    );
  const kept = steps.slice(0, REHEARSAL_BOUNDS.steps);
  return { rehearsal: { settings: picked, opening, steps: kept, until: ms(to) }, assumed };
}

/** As configured; where it isn't known which of two ways, the reference model's. */
function settingsOf(settings: readonly UnitSetting[], assumed: string[]): ControlSettings {
  const picked: Record<string, number | string | null> = { ...REFERENCE_SETTINGS };
  for (const { name, value } of settings) {
    if (!(name in REFERENCE_SETTINGS) || value === 'either') continue;
    picked[name] = typeof value === 'number' ? Number(value.toFixed(6)) : value;
  }
  if (settings.some(({ known }) => known === 'assumed'))
    assumed.push('Settings that aren’t recorded are assumed.');
  return picked as unknown as ControlSettings;
}

/** Where it crosses what the control looks at, or moves by a volt: whole samples of a day are no steps. */
function voltages(
  { t, min, last }: AnalogSeries,
  trip: number | null,
  ms: (at: Instant) => number,
): RehearsalStep[] {
  const side = (volts: number) => (volts < NO_POWER_BELOW ? 0 : trip !== null && volts < trip ? 1 : 2);
  const steps: RehearsalStep[] = [];
  let before = NaN;
  for (const [i, at] of t.entries()) {
    const lowest = Math.round((side(min[i]!) < 2 ? min[i]! : last[i]!) * 10) / 10;
    const volts = Math.min(REHEARSAL_BOUNDS.volts, Math.max(0, lowest));
    if (side(volts) === side(before) && Math.abs(volts - before) < 1) continue;
    before = volts;
    steps.push({ at: ms(readInstant(at)), change: { controlVoltage: volts } });
  }
  return steps;
}

/** In order of time, one step for each time; what is the same as before is no change. */
function mergedSteps(changes: readonly RehearsalStep[]): RehearsalStep[] {
  const byTime = new Map<number, Partial<ControlInputs>>();
  for (const { at, change } of changes) byTime.set(at, { ...byTime.get(at), ...change });
  return [...byTime].sort(([a], [b]) => a - b).map(([at, change]) => ({ at, change }));
}
