import type { Instant } from '../shared/base/instant.ts';
import type { DigestSettings } from '../shared/people/digest.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Who wants the month's report by e-mail, and which was made last. */
export interface ReportPerson {
  readonly person: string;
  /** null: every site */
  readonly sites: readonly string[] | null;
  readonly settings: Pick<DigestSettings, 'isMonthly' | 'atMinutes' | 'zone'>;
  /** as 2026-10; null: none yet */
  readonly lastMonth: string | null;
}

const PEOPLE = statement(
  'reports-people',
  `select p.id as person, p.sites, json_build_object('isMonthly', s.is_monthly, 'atMinutes', s.at_minutes, 'zone', s.zone) as settings,
     (select max(month) from reports r where r.person = p.id) as "lastMonth"
   from people p join digest_settings s on s.person = p.id
   where p.closed_at is null and s.is_monthly
     and exists (select from channels c where c.person = p.id and c.disabled_at is null and c.kind = 'e-mail')
   order by p.id limit 10000`,
);
export const readReportPeople = (queries: Queries): Promise<ReportPerson[]> => queries.many(PEOPLE);

const CLAIM = statement(
  'reports-claim',
  'insert into reports (person, month, made_at) values ($1, $2, $3) on conflict do nothing',
);
/** False: it is made already. */
export const claimReport = async (
  queries: Queries,
  person: string,
  month: string,
  now: Instant,
): Promise<boolean> => (await queries.run(CLAIM, [person, month, timeParameter(now)])) > 0;
