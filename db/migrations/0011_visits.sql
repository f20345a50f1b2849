-- What people do about an alarm where it stands: their steps, and what they found (handbook 8).

-- one row a step; its id is the wish's, so that the same wish sent twice is one
create table alarm_steps (
  id uuid primary key,
  site text not null references sites on delete cascade,
  alarm text not null references alarms on delete cascade,
  step text not null check (step in ('still-on-it', 'on-my-way', 'on-site', 'left')),
  -- id of a person, or the name of what isn't one
  person text not null,
  by text not null,
  at timestamptz not null,
  -- when it was pressed, where it waited to be sent
  said_at timestamptz
);
create index alarm_steps_by_alarm on alarm_steps (alarm, at, id);

create table findings (
  id uuid primary key,
  site text not null references sites on delete cascade,
  alarm text not null references alarms on delete cascade,
  unit text,
  person text not null,
  by text not null,
  at timestamptz not null,
  said_at timestamptz,
  body jsonb not null
);
create index findings_by_alarm on findings (alarm, at, id);
create index findings_by_unit on findings (site, unit, at desc);

-- earlier alarms of a unit
create index alarms_by_unit on alarms (site, unit, raised_at desc) where unit is not null;
