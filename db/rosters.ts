import type { Instant } from '../shared/base/instant.ts';
import type { Override } from '../shared/people/roster.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Rosters as documents, overrides as rows. What a document may hold is checked where it comes in. */
export interface StoredDocument {
  readonly id: string;
  readonly name: string;
  readonly document: unknown;
  readonly changedAt: Instant;
  readonly changedBy: string;
}

export interface DocumentChange {
  readonly id: string | null;
  readonly name: string;
  readonly document: unknown;
  readonly now: Instant;
  readonly by: string;
}

const COLUMNS = 'id, name, document, changed_at as "changedAt", changed_by as "changedBy"';
const ROSTERS_BOUND = 200;

const LIST = statement('rosters-list', `select ${COLUMNS} from rosters order by lower(name), id limit $1`);
export const readRosters = (queries: Queries): Promise<StoredDocument[]> =>
  queries.many(LIST, [ROSTERS_BOUND]);

const ONE = statement('rosters-one', `select ${COLUMNS} from rosters where id = $1`);
export const readRoster = (queries: Queries, id: string): Promise<StoredDocument | null> =>
  queries.maybe(ONE, [id]);

const INSERT = statement(
  'rosters-insert',
  `insert into rosters (name, document, changed_at, changed_by) values ($1, $2, $3, $4)
   on conflict (name) do nothing returning ${COLUMNS}`,
);
const UPDATE = statement(
  'rosters-update',
  `update rosters set name = $2, document = $3, changed_at = $4, changed_by = $5
   where id = $1 and not exists (select from rosters other where other.name = $2 and other.id <> $1)
   returning ${COLUMNS}`,
);

/** null: there is no such roster, or another has that name. */
export function putRoster(queries: Queries, change: DocumentChange): Promise<StoredDocument | null> {
  const values = [change.name, JSON.stringify(change.document), timeParameter(change.now), change.by];
  return change.id === null ? queries.maybe(INSERT, values) : queries.maybe(UPDATE, [change.id, ...values]);
}

const DELETE = statement('rosters-delete', 'delete from rosters where id = $1');
export const deleteRoster = async (queries: Queries, id: string): Promise<boolean> =>
  (await queries.run(DELETE, [id])) > 0;

export interface StoredOverride extends Override {
  readonly roster: string;
  readonly why: string;
  readonly madeBy: string;
}

const OVERRIDE_COLUMNS = `id, roster, from_at as "from", to_at as "to", person, why, made_at as "madeAt",
  made_by as "madeBy"`;
const OVERRIDES_BOUND = 1_000;

const OVERRIDES = statement(
  'overrides-list',
  `select ${OVERRIDE_COLUMNS} from overrides where roster = $1 and to_at > $2 and from_at < $3
   order by from_at, id limit $4`,
);
/** Those that touch a stretch of time. */
export const readOverrides = (
  queries: Queries,
  roster: string,
  from: Instant,
  to: Instant,
): Promise<StoredOverride[]> =>
  queries.many(OVERRIDES, [roster, timeParameter(from), timeParameter(to), OVERRIDES_BOUND]);

const ADD_OVERRIDE = statement(
  'overrides-add',
  `insert into overrides (roster, from_at, to_at, person, why, made_at, made_by) values ($1, $2, $3, $4, $5, $6, $7)
   returning ${OVERRIDE_COLUMNS}`,
);
export const addOverride = (
  queries: Queries,
  override: Omit<StoredOverride, 'id'>,
): Promise<StoredOverride> =>
  queries.one(ADD_OVERRIDE, [
    override.roster,
    timeParameter(override.from),
    timeParameter(override.to),
    override.person,
    override.why,
    timeParameter(override.madeAt),
    override.madeBy,
  ]);

const DELETE_OVERRIDE = statement('overrides-delete', 'delete from overrides where id = $1 and roster = $2');
export const deleteOverride = async (queries: Queries, roster: string, id: string): Promise<boolean> =>
  (await queries.run(DELETE_OVERRIDE, [id, roster])) > 0;

const NAMES = statement(
  'people-names',
  'select id, name from people where closed_at is null order by lower(name), id limit 2000',
);
/** Everybody who may be on call. */
export const readNames = (queries: Queries): Promise<{ readonly id: string; readonly name: string }[]> =>
  queries.many(NAMES);
