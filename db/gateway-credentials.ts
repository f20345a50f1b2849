import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** What gateways show themselves by at the broker. A password is kept only as what it is compared with, a key not at all. */
export interface CredentialRow {
  readonly id: string;
  readonly site: string;
  readonly gateway: string;
  readonly kind: 'password' | 'certificate';
  readonly username: string;
  /** of a password: as `kept-password.ts` writes it */
  readonly secret: string | null;
  /** of a certificate: SHA-256 of its DER */
  readonly fingerprint: Buffer | null;
  /** of a certificate: PEM */
  readonly certificate: string | null;
  readonly madeAt: Instant;
  readonly madeBy: string;
  readonly endsAt: Instant | null;
  readonly revokedAt: Instant | null;
  readonly usedAt: Instant | null;
  readonly usedFrom: string | null;
}

const COLUMNS = `id, site, gateway, kind, username, secret, fingerprint, certificate, made_at as "madeAt",
  made_by as "madeBy", ends_at as "endsAt", revoked_at as "revokedAt", used_at as "usedAt", used_from as "usedFrom"`;

/** An installation's; what is past goes after 400 days (`sweepCredentials`). */
const CREDENTIALS_BOUND = 20_000;

const ALL = statement(
  'credentials-all',
  `select ${COLUMNS} from gateway_credentials where ($1::text is null or site = $1)
   order by site, gateway, made_at desc, id limit ${CREDENTIALS_BOUND}`,
);
/** Of a site, or of all (null): also those that are revoked or over. */
export const readCredentials = (queries: Queries, site: string | null): Promise<CredentialRow[]> =>
  queries.many(ALL, [site]);

const BY_USER = statement(
  'credentials-by-user',
  `select ${COLUMNS} from gateway_credentials where username = $1`,
);
export const findCredential = (queries: Queries, username: string): Promise<CredentialRow | null> =>
  queries.maybe(BY_USER, [username]);

const BY_FINGERPRINT = statement(
  'credentials-by-fingerprint',
  `select ${COLUMNS} from gateway_credentials where fingerprint = $1`,
);
export const findCertificate = (queries: Queries, fingerprint: Buffer): Promise<CredentialRow | null> =>
  queries.maybe(BY_FINGERPRINT, [fingerprint]);

const LOCK = statement('credentials-lock', 'select pg_advisory_xact_lock(hashtextextended($1, 0)) as locked');
/** Until the transaction ends nobody else makes one for this gateway. */
export const holdGateway = async (queries: Queries, site: string, gateway: string): Promise<void> => {
  await queries.one(LOCK, [`gateway credentials ${site}/${gateway}`]);
};

const STANDING = statement(
  'credentials-standing',
  `select ${COLUMNS} from gateway_credentials
   where site = $1 and gateway = $2 and revoked_at is null and (ends_at is null or ends_at > $3) order by made_at, id`,
);
/** Those that open the door to a gateway now, the oldest first. */
export const readStanding = (
  queries: Queries,
  { site, gateway, now }: { readonly site: string; readonly gateway: string; readonly now: Instant },
): Promise<CredentialRow[]> => queries.many(STANDING, [site, gateway, timeParameter(now)]);

export type NewCredential = Pick<
  CredentialRow,
  'site' | 'gateway' | 'kind' | 'username' | 'secret' | 'fingerprint' | 'certificate' | 'madeBy' | 'endsAt'
> & { readonly now: Instant };

const INSERT = statement(
  'credentials-insert',
  `insert into gateway_credentials
     (site, gateway, kind, username, secret, fingerprint, certificate, made_at, made_by, ends_at)
   select $1, $2, $3, $4, $5, $6, $7, $8, $9, $10
   where (select count(*) from gateway_credentials) < ${CREDENTIALS_BOUND}
   on conflict do nothing returning ${COLUMNS}`,
);
/** null: that user or that certificate is known already, or there are too many. */
export const insertCredential = (queries: Queries, made: NewCredential): Promise<CredentialRow | null> =>
  queries.maybe(INSERT, [
    made.site,
    made.gateway,
    made.kind,
    made.username,
    made.secret,
    made.fingerprint,
    made.certificate,
    timeParameter(made.now),
    made.madeBy,
    timeOrNull(made.endsAt),
  ]);

const END = statement(
  'credentials-end',
  `update gateway_credentials set ends_at = least(coalesce(ends_at, 'infinity'), $2::timestamptz)
   where id = $1 and revoked_at is null`,
);
/** It opens the door until then, and no longer than before. */
export const endCredential = (queries: Queries, id: string, at: Instant): Promise<number> =>
  queries.run(END, [id, timeParameter(at)]);

const REVOKE = statement(
  'credentials-revoke',
  `update gateway_credentials set revoked_at = $4
   where site = $1 and gateway = $2 and id = $3 and revoked_at is null`,
);
/** False: there is none such that isn't revoked already. */
export const revokeCredential = async (
  queries: Queries,
  of: { readonly site: string; readonly gateway: string; readonly id: string; readonly now: Instant },
): Promise<boolean> => (await queries.run(REVOKE, [of.site, of.gateway, of.id, timeParameter(of.now)])) > 0;

const USED = statement(
  'credentials-used',
  'update gateway_credentials set used_at = $2, used_from = $3 where id = $1',
);
export const noteUse = (queries: Queries, id: string, at: Instant, from: string): Promise<number> =>
  queries.run(USED, [id, timeParameter(at), from.slice(0, 64)]);

const FALLEN = statement(
  'credentials-fallen',
  `select g.id::text as id from unnest($1::uuid[]) as g(id) left join gateway_credentials c using (id)
   where c.id is null or c.revoked_at is not null or c.ends_at <= $2`,
);
/** Which of these no longer open the door. */
export const readFallen = async (
  queries: Queries,
  ids: readonly string[],
  now: Instant,
): Promise<ReadonlySet<string>> => {
  const rows = await queries.many<{ id: string }>(FALLEN, [ids, timeParameter(now)]);
  return new Set(rows.map(({ id }) => id));
};

const SWEEP = statement(
  'credentials-sweep',
  'delete from gateway_credentials where revoked_at <= $1 or ends_at <= $1',
);
export const sweepCredentials = (queries: Queries, before: Instant): Promise<number> =>
  queries.run(SWEEP, [timeParameter(before)]);
