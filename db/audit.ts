import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** The audit trail: a row before each change, completed when it has been answered. */
export interface AuditActor {
  readonly kind: 'person' | 'token' | 'machine' | 'nobody';
  readonly id: string;
  readonly name: string;
}

export interface AuditEntry {
  readonly at: Instant;
  readonly actor: AuditActor;
  readonly address: string;
  readonly action: string;
  readonly method: string;
  readonly path: string;
  readonly site: string | null;
}

const INSERT = statement(
  'audit-insert',
  `insert into audit (at, actor_kind, actor_id, actor_name, address, action, method, path, site)
   values ($1, $2, $3, $4, $5, $6, $7, $8, $9) returning id`,
);
export const insertAudit = async (queries: Queries, entry: AuditEntry): Promise<number> =>
  (
    await queries.one<{ id: number }>(INSERT, [
      timeParameter(entry.at),
      entry.actor.kind,
      entry.actor.id,
      entry.actor.name,
      entry.address,
      entry.action,
      entry.method,
      entry.path.slice(0, 500),
      entry.site,
    ])
  ).id;

const ANSWER = statement(
  'audit-answer',
  `update audit set status = $2, detail = $3::jsonb, actor_kind = coalesce($4, actor_kind),
     actor_id = coalesce($5, actor_id), actor_name = coalesce($6, actor_name) where id = $1`,
);
/** `actor`: who it turned out to be, where that was known only afterwards (signing in). */
export const answerAudit = (
  queries: Queries,
  id: number,
  outcome: { readonly status: number; readonly detail: unknown; readonly actor: AuditActor | null },
): Promise<number> => {
  const { status, detail, actor } = outcome;
  const text = detail === null ? null : JSON.stringify(detail);
  return queries.run(ANSWER, [id, status, text, actor?.kind ?? null, actor?.id ?? null, actor?.name ?? null]);
};

const FORGET = statement('audit-forget', 'delete from audit where id = $1');
export const forgetAudit = (queries: Queries, id: number): Promise<number> => queries.run(FORGET, [id]);

export interface AuditRow extends AuditEntry {
  readonly id: number;
  readonly detail: unknown;
  readonly status: number | null;
}

const LIST = statement(
  'audit-list',
  `select id, at, json_build_object('kind', actor_kind, 'id', actor_id, 'name', actor_name) as actor, address, action,
     method, path, site, detail, status
   from audit where ($1::timestamptz is null or at >= $1) and ($2::timestamptz is null or at < $2)
     and ($3::text is null or actor_id = $3) and ($4::text is null or site = $4)
     and ($5::text is null or action = $5) and ($6::bigint is null or id < $6)
   order by id desc limit $7`,
);
/** Newest first. */
export const readAudit = (
  queries: Queries,
  asked: {
    readonly from: string | null;
    readonly to: string | null;
    readonly actor: string | null;
    readonly site: string | null;
    readonly action: string | null;
    /** rows older than this one */
    readonly before: number | null;
    readonly limit: number;
  },
): Promise<AuditRow[]> => {
  const { from, to, actor, site, action, before, limit } = asked;
  return queries.many<AuditRow>(LIST, [from, to, actor, site, action, before, limit]);
};

const TRIM = statement(
  'audit-trim',
  `delete from audit where at < $1 or id <= (select max(id) from audit) - $2::bigint`,
);
/** The trail's bounds: an age, and so many rows. */
export const trimAudit = (queries: Queries, before: Instant, rows: number): Promise<number> =>
  queries.run(TRIM, [timeParameter(before), rows]);
