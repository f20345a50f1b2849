import type { Instant } from '../shared/base/instant.ts';
import { pointKey } from '../shared/inference/sources.ts';
import { signalRow, type SignalName } from '../shared/telemetry/signals.ts';
import { clockShifts, type ClockShift } from '../shared/telemetry/clock-shifts.ts';
import type { Point, Site, SiteHistory } from '../shared/telemetry/site.ts';
import type { DeviceIds } from '../db/record.ts';

/** What decoding needs to know of a configured point. */
export interface KnownPoint {
  readonly id: number;
  readonly site: string;
  readonly device: string;
  readonly signal: SignalName;
  readonly kind: 'contact' | 'analog';
  /** Hz, of its panel's supply: what a waveform's windows are laid by */
  readonly frequency: number;
  /** the gateway that carries it now, or did last */
  readonly gateway: KnownGateway;
  /** the configuration in force has it: it is taken at any time */
  readonly inForce: boolean;
  /** stretches of the history that had it: else it is taken within these only */
  readonly had: readonly { readonly from: Instant; readonly before: Instant }[];
}

export interface KnownGateway {
  readonly site: string;
  readonly id: string;
  /** of the point `<gateway>/life` */
  readonly lifeId: number;
  /** what is added to its claimed times when they are read */
  readonly shifts: readonly ClockShift[];
}

/** Every site's points and gateways by name, as of one revision of the configuration. */
export interface Catalogue {
  readonly revision: number;
  readonly sites: ReadonlyMap<string, KnownSite>;
}

export interface KnownSite {
  /** by `<device>/<signal>` */
  readonly points: ReadonlyMap<string, KnownPoint>;
  readonly gateways: ReadonlyMap<string, KnownGateway>;
  /** devices that have a point or are a gateway */
  readonly devices: ReadonlySet<string>;
}

export const mayTake = (point: KnownPoint, t: Instant): boolean =>
  point.inForce || point.had.some(({ from, before }) => t >= from && t < before);

export function knownSite(site: string, history: SiteHistory, ids: DeviceIds): KnownSite {
  const gateways = new Map<string, KnownGateway>();
  const points = new Map<string, KnownPoint>();
  for (const [i, version] of history.entries()) {
    for (const { id } of version.site.gateways)
      gateways.set(id, {
        site,
        id,
        lifeId: ids.points.get(`${id}/life`)!,
        shifts: clockShifts(history, `${id}/life`),
      });
    const inForce = i === history.length - 1;
    const stretch = {
      from: i === 0 ? -Infinity : version.from,
      before: history[i + 1]?.from ?? Infinity,
    };
    for (const point of pointsOfSite(version.site)) {
      const had = [...(points.get(pointKey(point))?.had ?? []), stretch];
      const known = { id: ids.points.get(pointKey(point))!, site, kind: kindOf(point), inForce, had };
      const { device, signal } = point;
      const frequency = frequencyOf(version.site, device);
      points.set(pointKey(point), {
        ...known,
        device,
        signal,
        frequency,
        gateway: gateways.get(point.gateway)!,
      });
    }
  }
  const devices = new Set([...gateways.keys(), ...[...points.values()].map(({ device }) => device)]);
  return { points, gateways, devices };
}

/** Units repeat the site's points that name them; a key names a point once. */
const pointsOfSite = (site: Site): readonly Point[] => [
  ...site.points,
  ...[...site.spaces, ...site.panels, ...site.units].flatMap((device) => device.points),
];

const USUAL_FREQUENCY = 60;

/** Of the panel itself, or the one that feeds the unit. */
function frequencyOf({ panels, units }: Site, device: string): number {
  const panel = units.find(({ id }) => id === device)?.panel ?? device;
  return panels.find(({ id }) => id === panel)?.frequency ?? USUAL_FREQUENCY;
}

const kindOf = (point: Point): 'contact' | 'analog' =>
  signalRow(point.signal).kind === 'contact' ? 'contact' : 'analog';
