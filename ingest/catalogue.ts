import type { Instant } from '../shared/base/instant.ts';
import { pointKey } from '../shared/inference/sources.ts';
import { signalRow, type SignalName } from '../shared/telemetry/signals.ts';
import { clockShifts, type ClockShift } from '../shared/telemetry/clock-shifts.ts';
import { parsePointer } from '../shared/telemetry/json-pointer.ts';
import { metricKey, parseSparkplugName } from '../shared/telemetry/sparkplug-name.ts';
import type { Point, PointSource, Site, SiteHistory } from '../shared/telemetry/site.ts';
import type { DeviceIds } from '../db/record.ts';
import { TopicTree } from './topic-tree.ts';

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
  /** where its values come from besides the root topic: as configured now, or last */
  readonly source: PointSource | null;
  readonly sparkplug: string | null;
}

/** A point that listens to a topic of its own (contract 1.3). */
export interface KnownSource {
  readonly point: KnownPoint;
  /** reference tokens of the value's place in the message */
  readonly pointer: readonly string[];
  /** of its time; null: what is at the pointer tells, or else it is timed at arrival */
  readonly time: readonly string[] | null;
}

/** An edge node of Sparkplug B that points take metrics of (contract 1.2). */
export interface KnownEdge {
  readonly group: string;
  readonly edge: string;
  /** by `<device>/<metric>`, the device empty for the edge node's own; two sites may take the same one */
  readonly metrics: ReadonlyMap<string, readonly KnownPoint[]>;
  readonly gateways: ReadonlySet<KnownGateway>;
  /** the newest life of those that was on record when the configuration was read; null: none */
  readonly heardBefore: Instant | null;
}

export interface KnownGateway {
  readonly site: string;
  readonly id: string;
  /** of the point `<gateway>/life` */
  readonly lifeId: number;
  /** what is added to its claimed times when they are read */
  readonly shifts: readonly ClockShift[];
}

/** Every site's points and gateways by name and by source, as of one revision of the configuration. */
export interface Catalogue {
  readonly revision: number;
  readonly sites: ReadonlyMap<string, KnownSite>;
  /** what listens to topics outside the root's own form */
  readonly sources: TopicTree<KnownSource>;
  /** the topic filters of those that the configuration in force has */
  readonly filters: ReadonlySet<string>;
  /** those of the filters that somebody has asked to listen to for a while, whatever points name; until when */
  readonly listened: ReadonlySet<string>;
  readonly listenedUntil: Instant | null;
  /** of the points that the configuration in force has, by `<group>/<edge>` */
  readonly edges: ReadonlyMap<string, KnownEdge>;
  /** what was before it comes too late; -Infinity: nothing does */
  readonly floor: Instant;
}

export interface KnownSite {
  /** by `<device>/<signal>` */
  readonly points: ReadonlyMap<string, KnownPoint>;
  readonly gateways: ReadonlyMap<string, KnownGateway>;
  /** devices that have a point or are a gateway */
  readonly devices: ReadonlySet<string>;
}

/** `lives`: the newest life of each gateway by its `lifeId`. `floor`: the oldest instant that is retained. */
export function catalogueOf(
  revision: number,
  sites: ReadonlyMap<string, KnownSite>,
  lives: ReadonlyMap<number, Instant> = new Map(),
  listening: { readonly filters: readonly string[]; readonly until: Instant } | null = null,
  floor: Instant = -Infinity,
): Catalogue {
  const points = [...sites.values()].flatMap((site) => [...site.points.values()]);
  const sources = new TopicTree<KnownSource>();
  const filters = new Set<string>();
  for (const point of points) {
    if (!point.source) continue;
    const { topic, pointer, time } = point.source;
    sources.add(topic, { point, pointer: tokensOf(pointer), time: time === null ? null : tokensOf(time) });
    if (point.inForce) filters.add(topic);
  }
  const listened = new Set(listening?.filters.filter((filter) => !filters.has(filter)));
  for (const filter of listened) filters.add(filter);
  const edges = edgesOf(points, lives);
  return {
    revision,
    sites,
    sources,
    filters,
    listened,
    listenedUntil: listening?.until ?? null,
    edges,
    floor,
  };
}

/** The schema lets no other pointer in. */
const tokensOf = (pointer: string): readonly string[] => parsePointer(pointer) ?? [];

function edgesOf(
  points: readonly KnownPoint[],
  lives: ReadonlyMap<number, Instant>,
): ReadonlyMap<string, KnownEdge> {
  const edges = new Map<string, GrowingEdge>();
  for (const point of points) {
    const name = point.sparkplug === null ? null : parseSparkplugName(point.sparkplug);
    if (!name || !point.inForce) continue;
    const { group, edge, device, metric } = name;
    const id = `${group}/${edge}`;
    let known = edges.get(id);
    if (!known)
      edges.set(id, (known = { group, edge, metrics: new Map(), gateways: new Set(), heardBefore: null }));
    const sharing = known.metrics.get(metricKey(device, metric));
    if (sharing) sharing.push(point);
    else known.metrics.set(metricKey(device, metric), [point]);
    known.gateways.add(point.gateway);
    const heard = Math.max(known.heardBefore ?? -Infinity, lives.get(point.gateway.lifeId) ?? -Infinity);
    known.heardBefore = heard === -Infinity ? null : heard;
  }
  return edges;
}

interface GrowingEdge extends KnownEdge {
  readonly metrics: Map<string, KnownPoint[]>;
  readonly gateways: Set<KnownGateway>;
  heardBefore: Instant | null;
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
        source: point.source,
        sparkplug: point.sparkplug,
      });
    }
  }
  const devices = new Set([...gateways.keys(), ...[...points.values()].map(({ device }) => device)]);
  return { points: byInput(points, history.at(-1)?.site), gateways, devices };
}

/** By what their gateways call them: a point whose wire lies on another's input is told under that one's name. */
function byInput(
  points: ReadonlyMap<string, KnownPoint>,
  site: Site | undefined,
): ReadonlyMap<string, KnownPoint> {
  const moved = (site ? pointsOfSite(site) : []).filter(({ input }) => input != null);
  if (moved.length === 0) return points;
  const own = new Set(moved.map(pointKey));
  const named = new Map([...points].filter(([key]) => !own.has(key)));
  for (const point of moved) named.set(point.input!, points.get(pointKey(point))!);
  return named;
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
