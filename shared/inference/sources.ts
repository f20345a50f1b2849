import type { Instant } from '../base/instant.ts';
import type { Point, Site, SiteHistory, Unit } from '../telemetry/site.ts';
import type { SignalName } from '../telemetry/signals.ts';
import type { Subject } from './event.ts';
import type { FoldContext, Source } from './fold.ts';
import type { WatchCoverage } from './watch.ts';

/**
 * Which subjects a site has and what each one's fold reads. The store derives its rows from the same functions
 * (point_subjects, subject_members), so that a sample wakes exactly the folds that read it.
 */
export function subjectsOf(history: SiteHistory): Subject[] {
  const found = new Map<string, Subject>();
  const add = (site: string, kind: Subject['kind'], device: string) =>
    found.set(`${kind}/${device}`, { kind, site, device });
  for (const { site } of history) {
    add(site.id, 'site', 'site');
    for (const gateway of site.gateways) add(site.id, 'gateway', gateway.id);
    for (const space of site.spaces) add(site.id, 'space', space.id);
    for (const panel of site.panels) add(site.id, 'panel', panel.id);
    for (const unit of site.units) add(site.id, 'unit', unit.id);
  }
  return [...found.values()];
}

/** The units whose edges a panel's or a space's fold reads, in this version of the site. */
export function membersOf(site: Site, subject: Subject): readonly Unit[] {
  if (subject.kind === 'panel') return site.units.filter((unit) => unit.panel === subject.device);
  if (subject.kind === 'space') return site.units.filter((unit) => unit.space === subject.device);
  return [];
}

/** The points that a subject's fold reads, in this version of the site. */
export function pointsOf(site: Site, subject: Subject): readonly Point[] {
  switch (subject.kind) {
    case 'unit':
      return site.units.find((unit) => unit.id === subject.device)?.points ?? [];
    case 'panel':
      return [
        ...(site.panels.find((panel) => panel.id === subject.device)?.points ?? []),
        ...site.points.filter(
          (point) => point.signal === 'utility-failed' || point.signal === 'generator-running',
        ),
      ];
    case 'space':
      return pointsOfSpace(site, subject.device);
    case 'site':
      return site.points;
    case 'gateway':
      return [];
  }
}

/** Its own; the site's temperature where that is the one space; and where its temperature is known, that outdoors. */
function pointsOfSpace(site: Site, id: string): readonly Point[] {
  const own = [
    ...(site.spaces.find((space) => space.id === id)?.points ?? []),
    ...site.points.filter((point) => point.signal === 'space-temperature' && site.spaces.length === 1),
  ];
  if (!own.some(({ signal }) => signal === 'space-temperature')) return own;
  return [...own, ...site.points.filter(({ signal }) => signal === 'outdoor-temperature')];
}

/**
 * Every source of a subject over the whole history: its points, the life of their gateways, its members' edges.
 * Order and therefore index depend on the history alone.
 */
export function sourcesOf(history: SiteHistory, subject: Subject): Source[] {
  const sources = new Map<string, Source>();
  const add = (key: string, kind: Source['kind'], device: string, signal: SignalName | null) => {
    if (!sources.has(key)) sources.set(key, { key, kind, device, signal, point: null });
  };
  const gateways = new Set<string>();
  for (const { site } of history) {
    for (const point of pointsOf(site, subject)) {
      add(pointKey(point), 'point', point.device, point.signal);
      gateways.add(point.gateway);
    }
    for (const unit of membersOf(site, subject)) add(`${unit.id}/edges`, 'edges', unit.id, null);
  }
  if (subject.kind === 'gateway') gateways.add(subject.device);
  for (const gateway of gateways) add(`${gateway}/life`, 'life', gateway, 'life');
  return [...sources.values()];
}

export const pointKey = (point: { readonly device: string; readonly signal: SignalName }): string =>
  `${point.device}/${point.signal}`;

/** What a fold of this subject is given. `history` must not be empty. */
export function contextOf(
  history: SiteHistory,
  subject: Subject,
  watch: WatchCoverage,
  members: Readonly<Record<string, Instant | null>> = {},
): FoldContext {
  const first = history[0];
  if (!first) throw new Error(`${subject.site}: a fold needs at least one version of the site`);
  const context = {
    subject,
    site: first.site,
    history,
    sources: sourcesOf(history, subject),
    watch,
    members,
  };
  enterVersion(context, 0);
  return context;
}

/** Make version `index` of the history the one in force. */
export function enterVersion(context: FoldContext, index: number): void {
  const { site } = context.history[index]!;
  context.site = site;
  const points = new Map(pointsOf(site, context.subject).map((point) => [pointKey(point), point]));
  for (const source of context.sources)
    if (source.kind === 'point') source.point = points.get(source.key) ?? null;
}

/** The index of the version that holds at an instant. */
export function versionAt(history: SiteHistory, at: Instant): number {
  let index = 0;
  for (let i = 1; i < history.length; i++) if (history[i]!.from <= at) index = i;
  return index;
}
