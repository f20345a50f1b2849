import { readCredentials, type CredentialRow } from '../../db/gateway-credentials.ts';
import { readRefusals, type RefusalRow } from '../../db/gateway-refusals.ts';
import { readSiteHistory, readSiteIds } from '../../db/site-history.ts';
import type { Queries } from '../../db/pool.ts';
import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import {
  gatewayTopics,
  namedSources,
  type GatewayTopics,
  type NamedSource,
} from '../../shared/telemetry/gateway-topics.ts';
import type {
  CredentialAnswer,
  GatewayAccess,
  GatewayAnswer,
  RefusalAnswer,
} from '../../shared/wire/gateway-access.ts';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';

/** Every site as it is configured now. */
export async function readSitesNow(queries: Queries): Promise<ReadonlyMap<string, Site>> {
  const sites = new Map<string, Site>();
  for (const id of await readSiteIds(queries)) {
    const site = (await readSiteHistory(queries, id)).at(-1)?.site;
    if (site) sites.set(id, site);
  }
  return sites;
}

export const namedOfAll = (sites: ReadonlyMap<string, Site>): NamedSource[] =>
  [...sites].flatMap(([id, site]) => namedSources(id, site));

export interface AccessAsk {
  readonly site: string;
  readonly now: Instant;
  readonly broker: Service['broker'];
  /** refusals of users that nobody knows are told, too */
  readonly strangers: boolean;
}

/** A site's gateways at the broker; null: there is no such site. */
export async function readAccess(queries: Queries, ask: AccessAsk): Promise<GatewayAccess | null> {
  const { site: id, now, broker, strangers } = ask;
  const sites = await readSitesNow(queries);
  const site = sites.get(id);
  if (!site) return null;
  const credentials = await readCredentials(queries, id);
  const named = namedOfAll(sites);
  const gateways = site.gateways.map((gateway): GatewayAnswer => {
    const topics = gatewayTopics({ root: broker.root, site: id, gateway: gateway.id }, named);
    const own = credentials.filter((row) => row.gateway === gateway.id);
    return {
      id: gateway.id,
      ...mutable(topics),
      credentials: own.slice(0, CREDENTIALS_SHOWN).map((row) => credentialAnswer(row, now)),
      example: exampleOf(id, site, { gateway: gateway.id, root: broker.root, now }),
    };
  });
  const refusals = (await readRefusals(queries, id, strangers)).map(refusalAnswer);
  const { kind, host, port, isTls } = broker;
  const { name, timeZone } = site;
  return { name, timeZone, broker: { kind, host, port, isTls }, gateways, refusals };
}

const CREDENTIALS_SHOWN = 50;

const mutable = ({ publish, subscribe, withheld }: GatewayTopics) => ({
  publish: [...publish],
  subscribe: [...subscribe],
  withheld: withheld.map((one) => ({ ...one })),
});

export const credentialAnswer = (row: CredentialRow, now: Instant): CredentialAnswer => ({
  id: row.id,
  kind: row.kind,
  username: row.username,
  fingerprint: row.fingerprint?.toString('hex') ?? null,
  madeAt: wireInstant(row.madeAt)!,
  madeBy: row.madeBy,
  endsAt: wireInstant(row.endsAt),
  revokedAt: wireInstant(row.revokedAt),
  usedAt: wireInstant(row.usedAt),
  usedFrom: row.usedFrom,
  state: stateOf(row, now),
});

function stateOf({ revokedAt, endsAt }: CredentialRow, now: Instant): CredentialAnswer['state'] {
  if (revokedAt !== null) return 'revoked';
  return endsAt !== null && endsAt <= now ? 'ended' : 'valid';
}

/** A reason that another version has written isn't told. */
const refusalAnswer = ({ why, firstAt, lastAt, ...rest }: RefusalRow): RefusalAnswer => ({
  why: why as RefusalWhy,
  ...rest,
  firstAt: wireInstant(firstAt)!,
  lastAt: wireInstant(lastAt)!,
});

/** The first point of a gateway that is published below the root, with a value of its kind. */
function exampleOf(
  id: string,
  { points, spaces, panels, units }: Site,
  { gateway, root, now }: { readonly gateway: string; readonly root: string; readonly now: Instant },
): GatewayAnswer['example'] {
  const all = [...[...units, ...panels, ...spaces].flatMap((device) => device.points), ...points];
  const point = all.find((one) => one.gateway === gateway && one.source === null && one.sparkplug === null);
  if (!point) return null;
  const v = signalRow(point.signal).kind === 'contact' ? 1 : 24.6;
  const payload = JSON.stringify({ t: formatInstant(now), v });
  return { topic: `${root}/${id}/${point.device}/${point.signal}`, payload };
}
