-- Proof sessions: visits in which a site's wiring is proven, what people did in them, and the record that is kept (issue 7).
create table proof_sessions (
  id uuid primary key,
  site text not null references sites on delete cascade,
  from_at timestamptz not null,
  -- by a person, or eight hours after it began; null: it is open
  ended_at timestamptz,
  person text not null,
  by text not null,
  -- the TEST notice: its escalation, when it was sent, and who answered it when
  drill text unique,
  drill_at timestamptz,
  drill_answered_at timestamptz,
  drill_answered_by text,
  -- what it has proven, as it was judged last; late data may still amend it for a day after its end
  record jsonb,
  judged_at timestamptz
);
create index proof_sessions_by_site on proof_sessions (site, from_at desc);
-- one at a time
create unique index proof_sessions_open on proof_sessions (site) where ended_at is null;

-- what people did; rows are only ever added, and the same id again is the same mark
create table proof_marks (
  id uuid primary key,
  session uuid not null references proof_sessions on delete cascade,
  kind text not null,
  subject text not null,
  person text not null,
  by text not null,
  -- when it arrived; when it was done, by the server's clock as far as the device knew it
  at timestamptz not null,
  said_at timestamptz,
  -- how far that device's own clock was ahead of the server's
  clock_ahead_ms float8,
  note text not null
);
create index proof_marks_by_session on proof_marks (session, at, id);

-- when each thing was first known to be proven: what it happened at is the record's, this is when it arrived
create table proof_ticks (
  session uuid not null references proof_sessions on delete cascade,
  item text not null,
  happened_at timestamptz not null,
  arrived_at timestamptz not null,
  primary key (session, item)
);
