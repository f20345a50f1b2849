import { seconds, type Instant } from '../base/instant.ts';
import type { Site, SiteHistory } from './site.ts';

/**
 * How a source's claimed times are corrected when they are read (handbook 3: offsets are dated configuration, never
 * written into samples). Which version of the site counts, and which of its offsets, is decided by the *claimed* time,
 * so that one claimed time has one correction.
 */
export interface ClockShift {
  /** claimed times from here … */
  readonly from: Instant;
  /** … and before here */
  readonly before: Instant;
  /** are moved by this many microseconds */
  readonly by: number;
}

/** The stretches for `<device>/<signal>`, in order and without a gap from -Infinity to Infinity; empty if none moves. */
export function clockShifts(history: SiteHistory, key: string): ClockShift[] {
  const stretches: ClockShift[] = [];
  let gateway: string | null = null;
  for (const [i, version] of history.entries()) {
    gateway = gatewayOf(version.site, key) ?? gateway;
    const from = i === 0 ? -Infinity : version.from;
    stretches.push(...offsetsWithin(version.site, gateway, from, history[i + 1]?.from ?? Infinity));
  }
  return stretches.some((stretch) => stretch.by !== 0) ? joined(stretches) : [];
}

/** What is added to a claimed time when it is read, in microseconds. */
export const correctionAt = (shifts: readonly ClockShift[], claimed: Instant): number =>
  shifts.find(({ from, before }) => claimed >= from && claimed < before)?.by ?? 0;

/** By how much a corrected time may come before the claimed one, in microseconds; never negative. */
export const earliestBy = (shifts: readonly ClockShift[]): number =>
  Math.max(0, ...shifts.map((shift) => -shift.by));

/** The gateway that carried a point at an instant (its own life: the gateway itself); null if none ever did. */
export function gatewayAt(history: SiteHistory, key: string, at: Instant): string | null {
  const found = history.flatMap(({ from, site }, i) => {
    const gateway = gatewayOf(site, key);
    return gateway === null || (from > at && i > 0) ? [] : [gateway];
  });
  return found.at(-1) ?? null;
}

/** The gateway that carries a point, or the gateway itself for its life; null if this version doesn't have it. */
function gatewayOf(site: Site, key: string): string | null {
  const [device, signal] = key.split('/');
  if (signal === 'life') return device ?? null;
  for (const list of pointLists(site)) {
    for (const point of list) if (point.device === device && point.signal === signal) return point.gateway;
  }
  return null;
}

const pointLists = (site: Site) => [
  site.points,
  ...[...site.units, ...site.panels, ...site.spaces].map((device) => device.points),
];

function offsetsWithin(site: Site, gateway: string | null, from: Instant, before: Instant): ClockShift[] {
  const offsets = site.gateways.find((one) => one.id === gateway)?.clockOffsets ?? [];
  const inOrder = [...offsets].sort((a, b) => a.from - b.from);
  const steps = [{ from: -Infinity, seconds: 0 }, ...inOrder];
  return steps
    .map((step, i) => ({
      from: Math.max(from, step.from),
      before: Math.min(before, steps[i + 1]?.from ?? Infinity),
      by: seconds(step.seconds),
    }))
    .filter((stretch) => stretch.from < stretch.before);
}

/** Neighbours with one correction are one stretch. */
function joined(stretches: readonly ClockShift[]): ClockShift[] {
  const result: ClockShift[] = [];
  for (const stretch of stretches) {
    const last = result.at(-1);
    if (last?.by === stretch.by) result[result.length - 1] = { ...last, before: stretch.before };
    else result.push(stretch);
  }
  return result;
}
