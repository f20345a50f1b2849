import { filterCovers, filtersOverlap, filterTakes } from './topic-filter.ts';
import { parseSparkplugName } from './sparkplug-name.ts';
import type { Site } from './site.ts';

/**
 * What a gateway may do at the broker: publish below its own site's topic, and to what its own points name besides (contract
 * 1.2, 1.3); subscribe to its own site's topics and to what a Sparkplug host sends to its own edge nodes. Nothing that
 * reaches into another site: a topic that a point of another site listens to as well is nobody's to publish, since
 * whoever keeps one site's document could name another's.
 */
export interface GatewayTopics {
  readonly publish: readonly string[];
  readonly subscribe: readonly string[];
  /** named by its points and yet not given, each with the reason */
  readonly withheld: readonly { readonly filter: string; readonly why: string }[];
}

/** Whose point listens to what, besides the root's own topics. */
export interface NamedSource {
  readonly site: string;
  readonly gateway: string;
  /** a topic filter; null: `sparkplug` names it */
  readonly topic: string | null;
  readonly sparkplug: string | null;
}

/** What a site's points name. */
export function namedSources(site: string, { points, spaces, panels, units }: Site): NamedSource[] {
  const all = [...points, ...[...spaces, ...panels, ...units].flatMap((device) => device.points)];
  return all.flatMap(({ gateway, source, sparkplug }) =>
    source || sparkplug !== null ? [{ site, gateway, topic: source?.topic ?? null, sparkplug }] : [],
  );
}

/** `named`: of every site. */
export function gatewayTopics(
  { root, site, gateway }: { readonly root: string; readonly site: string; readonly gateway: string },
  named: readonly NamedSource[],
): GatewayTopics {
  const own = `${root}/${site}/#`;
  const others = new Set(named.filter((one) => one.site !== site).flatMap(reachOf));
  const publish = [own];
  const subscribe = [own];
  const withheld: { filter: string; why: string }[] = [];
  const mine = named.filter((one) => one.site === site && one.gateway === gateway);
  for (const filter of new Set(mine.flatMap(({ topic }) => topic ?? []))) {
    const why = withheldBecause(filter, root, own, others);
    if (why !== null) withheld.push({ filter, why });
    else if (!filterCovers(own, filter)) publish.push(filter);
  }
  for (const edge of new Set(mine.flatMap(edgeOf))) {
    const [group, node] = edge.split('/');
    if (others.has(`spBv1.0/${group}/+/${node}/#`)) withheld.push({ filter: edge, why: SHARED });
    else if (CONTROL.test(edge)) withheld.push({ filter: edge, why: UNWRITABLE });
    else {
      publish.push(...['NBIRTH', 'NDATA', 'NDEATH'].map((kind) => `spBv1.0/${group}/${kind}/${node}`));
      publish.push(...['DBIRTH', 'DDATA', 'DDEATH'].map((kind) => `spBv1.0/${group}/${kind}/${node}/+`));
      subscribe.push(...['NCMD', 'DCMD'].map((kind) => `spBv1.0/${group}/${kind}/${node}/#`));
    }
  }
  if (publish.some((filter) => filter.startsWith('spBv1.0/'))) subscribe.push('spBv1.0/STATE/+');
  return { publish, subscribe, withheld };
}

/** Would begin a line of its own in an access file. */
// eslint-disable-next-line no-control-regex -- those are what is looked for
const CONTROL = /[\u0000-\u001f\u007f]/;
const UNWRITABLE = 'it has control characters';
const SHARED = 'points of another site listen to it as well';

function withheldBecause(
  filter: string,
  root: string,
  own: string,
  others: ReadonlySet<string>,
): string | null {
  if (CONTROL.test(filter)) return UNWRITABLE;
  if (filtersOverlap(filter, `${root}/#`) && !filterCovers(own, filter))
    return 'it reaches into topics of other sites';
  return [...others].some((other) => filtersOverlap(filter, other)) ? SHARED : null;
}

/** What a source listens to, as a filter; an edge node whole. */
const reachOf = (source: NamedSource): string[] => {
  if (source.topic !== null) return [source.topic];
  return edgeOf(source).map((edge) => {
    const [group, node] = edge.split('/');
    return `spBv1.0/${group}/+/${node}/#`;
  });
};

function edgeOf({ sparkplug }: NamedSource): string[] {
  const name = sparkplug === null ? null : parseSparkplugName(sparkplug);
  return name ? [`${name.group}/${name.edge}`] : [];
}

export const mayPublish = ({ publish }: GatewayTopics, topic: string): boolean =>
  publish.some((filter) => filterTakes(filter, topic));

export const mayHear = ({ subscribe }: GatewayTopics, topic: string): boolean =>
  subscribe.some((filter) => filterTakes(filter, topic));

/** `filter` as a client subscribes to it. */
export const maySubscribe = ({ subscribe }: GatewayTopics, filter: string): boolean =>
  subscribe.some((allowed) => filterCovers(allowed, filter));
