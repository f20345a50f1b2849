-- What following the record needs beside the states themselves.

alter table subject_states
  -- what the last fold knew of time: a deadline that has passed wakes its subject again only when one of these moves
  add column folded_now timestamptz not null default '-infinity',
  add column folded_watch timestamptz not null default '-infinity',
  add column folded_life timestamptz not null default '-infinity',
  add column folded_members timestamptz not null default '-infinity',
  -- a stopped subject: everything from here on is to be folded again
  add column dirty_from timestamptz,
  -- the transaction that saved it: how a server finds what has changed since it last looked
  add column saved_in xid8 not null default pg_current_xact_id();
create index subject_states_by_saved on subject_states (saved_in);
create index subject_states_by_members on subject_states (wake_members_at) where wake_members_at is not null;

alter table events add column saved_in xid8 not null default pg_current_xact_id();
create index events_by_saved on events (saved_in);
create index events_by_settled on events (subject_id, settled_at) where withdrawn_at is null;
create index events_unsettled on events (subject_id) where settled_at is null and withdrawn_at is null;
create index events_by_site_end on events (site, end_latest) where withdrawn_at is null;

create index unit_edges_unsettled on unit_edges (subject_id) where settled_at is null;

-- a re-inference too long for one step: its own generation, which takes the place of what stands when it has reached the end
create table refolds (
  subject_id int primary key references subjects on delete cascade,
  -- what was settled at or before stands; everything after is made anew
  base timestamptz not null,
  fold_version int not null,
  through timestamptz not null,
  state jsonb not null,
  started_at timestamptz not null default now()
);

create table refold_events (
  subject_id int not null references refolds on delete cascade,
  id text not null,
  settled_at timestamptz not null,
  body jsonb not null,
  primary key (subject_id, id)
);

create table refold_edges (
  subject_id int not null references refolds on delete cascade,
  number int not null,
  settled_at timestamptz not null,
  edge jsonb not null,
  primary key (subject_id, number)
);
