import type { Panel, Point, Site, Space, Unit } from '../../telemetry/site.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import { clockDoubt } from '../members/wired.ts';

/**
 * What a unit is seen with: each wired signal, and how short a thing may be and still be seen by it (handbook 3,
 * "Reporting").
 */
export interface Eye {
  readonly point: Point;
  readonly onChange: boolean;
  /** seconds between looks; 0 on change */
  readonly every: number;
  /** an edge seen by it is at most this wide, seconds, its gateway's clock against the run signal's included */
  readonly width: number;
  /** what lasts at least this long is seen, seconds */
  readonly shortest: number;
}

export interface Eyes {
  readonly site: Site;
  readonly unit: Unit;
  readonly panel: Panel | null;
  readonly space: Space | null;
  /** runs, by handbook 4 rule 1 */
  readonly run: Eye | null;
  /** the call at the control's own terminal */
  readonly call: Eye | null;
  /** a call sensed somewhere before that */
  readonly upstream: Eye | null;
  readonly power: Eye | null;
  /** a pressure contact that can be read while the compressor runs */
  readonly high: Eye | null;
  readonly low: Eye | null;
  /** an alarm contact of this unit's own */
  readonly alarm: Eye | null;
  /** one contact for several units */
  readonly sharedAlarm: Eye | null;
  /** in the compressor's own conductor, beside another signal that runs are read from */
  readonly current: Eye | null;
  readonly air: boolean;
  readonly line: Eye | null;
  readonly utilityFailed: Eye | null;
  readonly generator: Eye | null;
  readonly roomTemperature: Eye | null;
  readonly others: readonly Unit[];
}

const RUN: readonly SignalName[] = ['compressor-output', 'contactor-voltage', 'compressor-current'];
const LINE: readonly SignalName[] = ['line-voltage', 'line-voltage-ab', 'line-voltage-bc', 'line-voltage-ca'];

export function eyesOf(site: Site, unit: Unit): Eyes {
  const panel = site.panels.find(({ id }) => id === unit.panel) ?? null;
  const space = site.spaces.find(({ id }) => id === unit.space) ?? null;
  const run = firstOf(unit.points, RUN);
  const eye = (point: Point | undefined): Eye | null => (point ? eyeOf(site, point, run ?? null) : null);
  const of = (signal: SignalName) => unit.points.find((point) => point.signal === signal);
  const call = of('cooling-call');
  const own = call?.sense === 'own';
  const readable = (point: Point | undefined) =>
    point && (point.sense === 'isolated' || own) ? eye(point) : null;
  const alarm = of('lockout-alarm');
  const shared = (alarm?.of.length ?? 0) > 1;
  const supply = [...(panel?.points ?? []), ...site.points];
  const room = [...(space?.points ?? []), ...site.points];
  return {
    site,
    unit,
    panel,
    space,
    run: eye(run),
    call: own ? eye(call) : null,
    upstream: call && !own ? eye(call) : null,
    power: eye(of('control-voltage')),
    high: readable(of('high-pressure')),
    low: readable(of('low-pressure')),
    alarm: shared ? null : eye(alarm),
    sharedAlarm: shared ? eye(alarm) : null,
    current: run?.signal === 'compressor-current' ? null : eye(of('compressor-current')),
    air: of('supply-air-temperature') !== undefined && of('return-air-temperature') !== undefined,
    line: eye(firstOf(panel?.points ?? [], LINE)),
    utilityFailed: eye(firstOf(supply, ['utility-failed'])),
    generator: eye(firstOf(supply, ['generator-running'])),
    roomTemperature: eye(firstOf(room, ['space-temperature'])),
    others: site.units.filter((other) => other.panel === unit.panel && other.id !== unit.id),
  };
}

const firstOf = (points: readonly Point[], signals: readonly SignalName[]): Point | undefined => {
  for (const signal of signals) {
    const found = points.find((point) => point.signal === signal);
    if (found) return found;
  }
  return undefined;
};

/** Beside the run signal, since it is against that one's edges that the others are held. */
export function eyeOf(site: Site, point: Point, run: Point | null): Eye {
  const onChange = point.reporting.mode === 'on-change';
  const every = point.reporting.mode === 'polled' ? point.reporting.seconds : 0;
  const { resolutionSeconds, debounceSeconds } = point;
  return {
    point,
    onChange,
    every,
    width: (onChange ? 2 * resolutionSeconds : every) + clockDoubt(site, run, point),
    shortest: onChange ? 2 * resolutionSeconds + debounceSeconds : every,
  };
}

/** An edge this narrow leaves no room for a second happening without a coincidence, s [from memory; unit/stop.ts]. */
const NARROW = 2;
export const isNarrow = (eye: Eye): boolean => eye.width <= NARROW;

/** Present "throughout" is seen only on change: what is over between two polls isn't (handbook 3). */
export const seesThroughout = (eye: Eye | null): boolean => eye?.onChange === true;
