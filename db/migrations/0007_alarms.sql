-- Alarms and tasks (handbook 7): what stands, its journal, what people asked, and what wakes a site's decision.

-- insert-only, written in the transaction that saves events: "decide this site's alarms again"
create table alarm_work (
  id bigint generated always as identity primary key,
  site text not null references sites on delete cascade,
  -- the event that changed; null: something else did, a setting or a clock
  event_id text,
  what text not null check (what in ('added', 'amended', 'withdrawn', 'asked')),
  inserted_at timestamptz not null default clock_timestamp()
);
create index alarm_work_by_site on alarm_work (site, id);

-- one row a site: what its last decision left beside its alarms
create table alarm_sites (
  site text primary key references sites on delete cascade,
  -- decide again when the server's clock passes this, and when time is known to have passed this
  wake_at timestamptz,
  wake_through timestamptz,
  decided_through timestamptz not null default '-infinity',
  -- conditions that wait for their subject to catch up
  lags jsonb not null default '{}',
  -- what a manager has changed of the rules
  tuning jsonb not null default '[]',
  decided_at timestamptz not null default now()
);
create index alarm_sites_by_wake on alarm_sites (wake_at) where wake_at is not null;
create index alarm_sites_by_through on alarm_sites (wake_through) where wake_through is not null;

create table alarms (
  id text primary key,
  site text not null references sites on delete cascade,
  -- rule, subject and discriminator
  key text not null,
  rule text not null,
  severity text not null check (severity in ('critical', 'major', 'minor')),
  -- the letter of ISA-18.2's state diagram
  state text not null check (state in ('A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'I')),
  unit text,
  space text,
  panel text,
  raised_at timestamptz not null,
  owner text,
  body jsonb not null,
  version int not null,
  changed_at timestamptz not null default now(),
  saved_in xid8 not null default pg_current_xact_id()
);
-- at most one that isn't at rest for each rule and subject
create unique index alarms_open on alarms (site, key) where state <> 'A';
create index alarms_by_site on alarms (site, raised_at desc, id);
create index alarms_by_saved on alarms (saved_in);

-- the journal: rows are only ever added. Whoever makes notices follows it.
create table alarm_changes (
  id bigint generated always as identity primary key,
  site text not null references sites on delete cascade,
  -- null: an event that was over when it was learned
  alarm_id text references alarms on delete cascade,
  what text not null,
  at timestamptz not null,
  event_at timestamptz,
  by text,
  why text,
  events text[] not null default '{}',
  state text,
  severity text,
  saved_in xid8 not null default pg_current_xact_id()
);
create index alarm_changes_by_alarm on alarm_changes (alarm_id, id);
create index alarm_changes_by_site on alarm_changes (site, at);
create index alarm_changes_by_saved on alarm_changes (saved_in);

-- what people asked, with what came of it; the same id again is the same wish
create table alarm_commands (
  id uuid primary key,
  site text not null references sites on delete cascade,
  alarm_id text,
  command jsonb not null,
  by text not null,
  asked_at timestamptz not null,
  -- null: not decided yet; else `done` or the code of the refusal
  outcome text
);
create index alarm_commands_by_site on alarm_commands (site, asked_at);
create index alarm_commands_undecided on alarm_commands (site) where outcome is null;

create table works (
  id uuid primary key,
  site text not null references sites on delete cascade,
  units text[] not null,
  by text not null,
  from_at timestamptz not null,
  until_at timestamptz not null,
  ended_at timestamptz
);
create index works_by_site on works (site, from_at);

create table tasks (
  id text primary key,
  site text not null references sites on delete cascade,
  key text not null,
  rule text not null,
  unit text,
  body jsonb not null,
  opened_at timestamptz not null,
  closed_at timestamptz,
  saved_in xid8 not null default pg_current_xact_id()
);
create unique index tasks_open on tasks (site, key) where closed_at is null;
create index tasks_by_site on tasks (site, opened_at desc, id);

-- What stands already is decided on once, at the first start with alarms: what is over stays over.
insert into alarm_work (site, what) select id, 'asked' from sites;
