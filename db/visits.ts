import type { Instant } from '../shared/base/instant.ts';
import type { Findings } from '../shared/visit/findings.ts';
import type { OwnerStep } from '../shared/people/ownership.ts';
import type { Alarm } from '../shared/alarms/alarm.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** What people did about an alarm where it stands, and what they found. Rows are only ever added. */
export interface StepRow {
  readonly id: string;
  readonly site: string;
  readonly alarm: string;
  readonly step: OwnerStep;
  /** id of a person, or the name of what isn't one */
  readonly person: string;
  readonly by: string;
  /** the server's clock */
  readonly at: Instant;
  /** when it was pressed, where it waited to be sent */
  readonly saidAt: Instant | null;
}

const ADD_STEP = statement(
  'visits-add-step',
  `insert into alarm_steps (id, site, alarm, step, person, by, at, said_at) values ($1, $2, $3, $4, $5, $6, $7, $8)
   on conflict (id) do nothing`,
);

/** False: this wish is there already. */
export const addStep = async (queries: Queries, row: StepRow): Promise<boolean> =>
  (await queries.run(ADD_STEP, [
    row.id,
    row.site,
    row.alarm,
    row.step,
    row.person,
    row.by,
    timeParameter(row.at),
    timeOrNull(row.saidAt),
  ])) > 0;

const STEP_COLUMNS = `id, site, alarm, step, person, by, at, said_at as "saidAt"`;
const STEPS = statement(
  'visits-steps',
  `select ${STEP_COLUMNS} from alarm_steps where alarm = any($1::text[]) order by at, id limit 1000`,
);

/** Of these alarms, oldest first. */
export const readSteps = (queries: Queries, alarms: readonly string[]): Promise<StepRow[]> =>
  queries.many<StepRow>(STEPS, [alarms]);

export interface FindingsRow {
  readonly id: string;
  readonly site: string;
  readonly alarm: string;
  readonly unit: string | null;
  readonly person: string;
  readonly by: string;
  readonly at: Instant;
  readonly saidAt: Instant | null;
  readonly body: Findings;
}

const ADD_FINDINGS = statement(
  'visits-add-findings',
  `insert into findings (id, site, alarm, unit, person, by, at, said_at, body) values ($1, $2, $3, $4, $5, $6, $7, $8, $9::jsonb)
   on conflict (id) do nothing`,
);

/** False: they are there already. */
export const addFindings = async (queries: Queries, row: FindingsRow): Promise<boolean> =>
  (await queries.run(ADD_FINDINGS, [
    row.id,
    row.site,
    row.alarm,
    row.unit,
    row.person,
    row.by,
    timeParameter(row.at),
    timeOrNull(row.saidAt),
    JSON.stringify(row.body),
  ])) > 0;

const FINDINGS = statement(
  'visits-findings',
  `select id, site, alarm, unit, person, by, at, said_at as "saidAt", body from findings
   where alarm = any($1::text[]) order by at, id limit 500`,
);

/** Of these alarms, oldest first. */
export const readFindings = (queries: Queries, alarms: readonly string[]): Promise<FindingsRow[]> =>
  queries.many<FindingsRow>(FINDINGS, [alarms]);

/** An alarm of a unit with when a person closed it, where one did. */
export interface UnitAlarm {
  readonly alarm: Alarm;
  readonly state: string;
  readonly closedAt: Instant | null;
}

const CLOSED_AT = `(select max(at) from alarm_changes c where c.alarm_id = a.id and c.what = 'closed')`;
const OF_UNIT = statement(
  'visits-alarms-of-unit',
  `select a.body as alarm, a.state, ${CLOSED_AT} as "closedAt" from alarms a
   where a.site = $1 and a.unit = $2 and a.raised_at < $3
     and (exists (select from alarm_steps s where s.alarm = a.id) or exists (select from findings f where f.alarm = a.id))
   order by a.raised_at desc limit 10`,
);

/** Those that somebody took a step on or wrote findings for, raised before an instant, the newest first; ten at most. */
export const readVisited = (
  queries: Queries,
  asked: { readonly site: string; readonly unit: string; readonly before: Instant },
): Promise<UnitAlarm[]> =>
  queries.many<UnitAlarm>(OF_UNIT, [asked.site, asked.unit, timeParameter(asked.before)]);

const CLOSED = statement(
  'visits-closed-at',
  `select max(at) as at from alarm_changes where alarm_id = $1 and what = 'closed'`,
);

/** When a person closed it last; null: nobody has. */
export const readClosedAt = async (queries: Queries, alarm: string): Promise<Instant | null> =>
  (await queries.one<{ at: Instant | null }>(CLOSED, [alarm])).at;

const REPAIRS = statement(
  'visits-repairs',
  `select a.body as alarm, a.state, max(c.at) as "closedAt" from alarm_changes c join alarms a on a.id = c.alarm_id
   where c.site = $1 and c.at >= $2 and c.what = 'closed' and a.unit is not null and a.state = 'A'
   group by a.id order by max(c.at) limit 1000`,
);

/** Alarms of a site's units that a person has closed since an instant, in the order in which they were. */
export const readRepairs = (
  queries: Queries,
  site: string,
  since: Instant,
): Promise<(UnitAlarm & { readonly closedAt: Instant })[]> =>
  queries.many(REPAIRS, [site, timeParameter(since)]);
