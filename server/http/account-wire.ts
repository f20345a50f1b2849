import type { AuditRow } from '../../db/audit.ts';
import type { PersonRow } from '../../db/people.ts';
import type { TokenRow } from '../../db/api-tokens.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type {
  ActorAnswer,
  AuditAnswer,
  LinkMade,
  PersonAnswer,
  TokenAnswer,
} from '../../shared/wire/account.ts';
import type { Actor } from '../../shared/wire/may.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { MadeLink } from '../accounts/links.ts';

/** Rows of accounts as the interface tells them: no secret and no digest of one leaves here. */
export const actorAnswer = ({ kind, id, name, role, sites }: Actor): ActorAnswer => ({
  kind,
  id,
  name,
  role,
  sites: sites === 'all' ? null : [...sites],
});

export const personAnswer = (row: PersonRow & { readonly seenAt?: Instant | null }): PersonAnswer => ({
  id: row.id,
  name: row.name,
  email: row.email,
  role: row.role,
  sites: copied(row.sites),
  createdAt: wireInstant(row.createdAt)!,
  closedAt: wireInstant(row.closedAt),
  hasPassword: row.hasPassword,
  seenAt: wireInstant(row.seenAt ?? null),
});

export const tokenAnswer = (row: TokenRow): TokenAnswer => ({
  id: row.id,
  name: row.name,
  role: row.role,
  sites: copied(row.sites),
  createdAt: wireInstant(row.createdAt)!,
  expiresAt: wireInstant(row.expiresAt)!,
  usedAt: wireInstant(row.usedAt),
});

export const linkAnswer = ({ purpose, secret, expiresAt }: MadeLink): LinkMade => ({
  purpose,
  secret,
  expiresAt: wireInstant(expiresAt)!,
});

export const auditAnswer = (row: AuditRow): AuditAnswer => ({
  id: String(row.id),
  at: wireInstant(row.at)!,
  actor: { ...row.actor },
  address: row.address,
  action: row.action,
  method: row.method,
  path: row.path,
  site: row.site,
  detail: row.detail,
  status: row.status,
});

const copied = (sites: readonly string[] | null): string[] | null => (sites === null ? null : [...sites]);
