import type { Instant } from '../shared/base/instant.ts';
import type { Command } from '../shared/alarms/alarm.ts';
import type { Tuning } from '../shared/alarms/tuning.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** What people ask of a site's alarms, stored before it is decided on, and what came of it. */
export interface AskedCommand {
  readonly command: Command;
  readonly by: string;
  readonly at: Instant;
}

const ADD = statement(
  'alarm-commands-add',
  `insert into alarm_commands (id, site, alarm_id, command, by, asked_at) values ($1, $2, $3, $4::jsonb, $5, $6)
   on conflict (id) do nothing`,
);

/** False: this wish is there already. */
export const addCommand = async (
  queries: Queries,
  site: string,
  { command, by, at }: AskedCommand,
): Promise<boolean> => {
  const alarm = command.kind === 'alarm' ? command.alarm : null;
  const values = [command.id, site, alarm, JSON.stringify(command), by, timeParameter(at)];
  return (await queries.run(ADD, values)) > 0;
};

const UNDECIDED = statement(
  'alarm-commands-undecided',
  'select command from alarm_commands where site = $1 and outcome is null order by asked_at, id limit 1000',
);

export const readUndecided = async (queries: Queries, site: string): Promise<Command[]> =>
  (await queries.many<{ command: Command }>(UNDECIDED, [site])).map(({ command }) => command);

const DECIDE = statement('alarm-commands-decide', 'update alarm_commands set outcome = $2 where id = $1');

export async function saveOutcomes(
  queries: Queries,
  outcomes: ReadonlyMap<string, string | null>,
): Promise<void> {
  for (const [id, outcome] of outcomes) await queries.run(DECIDE, [id, outcome ?? 'done']);
}

const OUTCOME = statement(
  'alarm-commands-outcome',
  'select outcome, site, alarm_id as "alarmId" from alarm_commands where id = $1',
);

export interface CommandOutcome {
  readonly outcome: string | null;
  readonly site: string;
  readonly alarmId: string | null;
}

export const readOutcome = (queries: Queries, id: string): Promise<CommandOutcome | null> =>
  queries.maybe<CommandOutcome>(OUTCOME, [id]);

const READ_TUNING = statement('alarm-tuning', 'select tuning from alarm_sites where site = $1');

export const readTuning = async (queries: Queries, site: string): Promise<Tuning> =>
  (await queries.maybe<{ tuning: Tuning }>(READ_TUNING, [site]))?.tuning ?? [];

const PUT_TUNING = statement(
  'alarm-tuning-put',
  `insert into alarm_sites (site, tuning) values ($1, $2::jsonb)
   on conflict (site) do update set tuning = excluded.tuning`,
);

const ADD_TUNING = statement(
  'alarm-tuning-add',
  `insert into alarm_settings_changes (site, at, by, rules)
   select $1, $2, $3, $4::jsonb where coalesce((select tuning from alarm_sites where site = $1), '[]') <> $4::jsonb`,
);

/** Who sets something of a site's rules, and when. In a transaction; what is as before leaves no line. */
export interface TuningChange {
  readonly at: Instant;
  readonly by: string;
  readonly rules: Tuning;
}

export async function putTuning(
  queries: Queries,
  site: string,
  { at, by, rules }: TuningChange,
): Promise<void> {
  const text = JSON.stringify(rules);
  await queries.run(ADD_TUNING, [site, timeParameter(at), by, text]);
  await queries.run(PUT_TUNING, [site, text]);
}

const TUNING_CHANGES = statement(
  'alarm-tuning-changes',
  'select at, by, rules from alarm_settings_changes where site = $1 order by id desc limit $2',
);

/** The newest first. */
export const readTuningChanges = (queries: Queries, site: string, limit: number): Promise<TuningChange[]> =>
  queries.many<TuningChange>(TUNING_CHANGES, [site, limit]);
