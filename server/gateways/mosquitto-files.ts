import type { CredentialRow } from '../../db/gateway-credentials.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { GatewayTopics } from '../../shared/telemetry/gateway-topics.ts';

/** Files for a Mosquitto (mosquitto.conf(5): `password_file`, `acl_file`, `cafile`), and when time alone changes them. */
export interface BrokerFiles {
  readonly passwords: string;
  readonly access: string;
  /** those that are valid, to be trusted as they are; only where the gateways' certificates sign themselves */
  readonly certificates: string;
  readonly nextChangeAt: Instant | null;
}

/** `ingestUser`: whom ingest connects as, who hears everything; its line in the password file is the installation's own. */
export function mosquittoFiles(
  credentials: readonly CredentialRow[],
  topicsOf: (site: string, gateway: string) => GatewayTopics,
  { now, root, ingestUser }: { readonly now: Instant; readonly root: string; readonly ingestUser: string },
): BrokerFiles {
  const standing = credentials.filter(
    ({ revokedAt, endsAt }) => revokedAt === null && (endsAt === null || endsAt > now),
  );
  const sections = standing.map(({ username, site, gateway }) => section(username, topicsOf(site, gateway)));
  const ends = standing.flatMap(({ endsAt }) => endsAt ?? []);
  return {
    passwords: lines(
      standing.flatMap(({ username, secret }) => (secret === null ? [] : `${username}:${secret}`)),
    ),
    access: [HEAD, ingestSection(ingestUser, root), ...sections].join('\n'),
    certificates: standing.map(({ certificate }) => certificate ?? '').join(''),
    nextChangeAt: ends.length === 0 ? null : Math.min(...ends),
  };
}

const lines = (all: readonly string[]): string => all.map((line) => `${line}\n`).join('');

const HEAD =
  '# Made by Holdoff: who may publish and subscribe to what. It is made anew whenever that changes.\n';

const section = (user: string, { publish, subscribe }: GatewayTopics): string => {
  const both = publish.filter((filter) => subscribe.includes(filter));
  return lines([
    `user ${user}`,
    ...both.map((filter) => `topic readwrite ${filter}`),
    ...publish.filter((filter) => !both.includes(filter)).map((filter) => `topic write ${filter}`),
    ...subscribe.filter((filter) => !both.includes(filter)).map((filter) => `topic read ${filter}`),
  ]);
};

/** Ingest hears what it listens to, and publishes its own marker and what Sparkplug asks of a host, to no unit. */
const ingestSection = (user: string, root: string): string =>
  lines([
    `user ${user}`,
    'topic read #',
    `topic readwrite ${root}-ingest/#`,
    'topic write spBv1.0/+/NCMD/+',
    'topic readwrite spBv1.0/STATE/+',
  ]);
