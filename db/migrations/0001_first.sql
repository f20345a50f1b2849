-- The first schema: configuration as history, the record, the work that follows from it, and what is inferred.
-- Times in `…_at` and `t` are instants; everything that a fold reads is numbers.

-- ── configuration ──────────────────────────────────────────────────────────────────────────────────────────────────
-- one row: raised by every change of configuration; ingest compares it in each commit
create table configuration (
  only_row boolean primary key default true check (only_row),
  revision bigint not null default 0
);
insert into configuration default values;

create table sites (
  id text primary key,
  -- the revision at which this site last changed
  revision bigint not null,
  created_at timestamptz not null default now()
);

-- a site's documents with the instants from which they hold; '-infinity' is `always`
create table site_documents (
  site text not null references sites on delete cascade,
  from_at timestamptz not null,
  document jsonb not null,
  put_at timestamptz not null default now(),
  put_by text not null default '',
  primary key (site, from_at)
);

-- what is folded: units, panels, spaces, gateways and the site itself (device 'site')
create table subjects (
  id int generated always as identity primary key,
  site text not null references sites on delete cascade,
  kind text not null check (kind in ('unit', 'panel', 'space', 'gateway', 'site')),
  device text not null,
  unique (site, kind, device)
);

-- a wired quantity; the row outlives its place in the configuration, so that its samples keep their meaning
create table points (
  id int generated always as identity primary key,
  site text not null references sites on delete cascade,
  device text not null,
  signal text not null,
  unique (site, device, signal)
);

-- whose fold reads a point: a unit's own, a shared alarm contact's several units, a gateway's life
create table point_subjects (
  point_id int not null references points on delete cascade,
  subject_id int not null references subjects on delete cascade,
  primary key (point_id, subject_id)
);

-- whose edges a panel or a space folds
create table subject_members (
  subject_id int not null references subjects on delete cascade,
  member_id int not null references subjects on delete cascade,
  primary key (subject_id, member_id)
);
create index subject_members_by_member on subject_members (member_id);

-- ── the record ─────────────────────────────────────────────────────────────────────────────────────────────────────
-- raw values as they came: polarity, scale, range and clock offsets are applied when reading
-- quality: 0 good, 1 uncertain, 2 bad; + 4 where different values were sent for one point and instant
create table samples (
  point_id int not null,
  t timestamptz not null,
  value float8 not null,
  quality smallint not null,
  primary key (point_id, t)
);

-- what a meter saw between two times; `t` is the end
create table intervals (
  point_id int not null,
  t timestamptz not null,
  from_t timestamptz not null,
  least float8 not null,
  most float8 not null,
  mean float8,
  quality smallint not null,
  primary key (point_id, t, from_t)
);

-- values without a time that may have waited on their way: shown as last heard, never folded
create table last_heard (
  point_id int primary key,
  heard_at timestamptz not null,
  value float8 not null,
  why text not null
);

-- "subscribed, and everything received from from_t to to_t is committed"; adjoining marks are merged
create table watch_marks (
  ingest text not null,
  from_t timestamptz not null,
  to_t timestamptz not null,
  primary key (ingest, from_t)
);

-- the newest life known of each gateway: wakes folds that wait for it, feeds the page
create table gateway_lives (
  site text not null,
  gateway text not null,
  t timestamptz not null,
  primary key (site, gateway)
);

-- how late messages come: diagnostics only, never an event. Milliseconds from claimed time to arrival.
create table arrivals (
  site text not null,
  gateway text not null,
  minute timestamptz not null,
  count int not null,
  least_ms float8 not null,
  median_ms float8 not null,
  primary key (site, gateway, minute)
);

-- entries that could not be taken, with the reason; payload whole for unknown points and future times, else 1,024 bytes
create table rejected (
  id bigint generated always as identity primary key,
  received_at timestamptz not null default now(),
  topic text not null,
  reason text not null,
  detail text not null default '',
  payload bytea not null,
  payload_bytes int not null
);
create index rejected_by_time on rejected (received_at);

-- ── what follows from it ───────────────────────────────────────────────────────────────────────────────────────────
-- insert-only, written in the transaction that changed the record: "fold this subject again from this instant"
create table work_items (
  id bigint generated always as identity primary key,
  subject_id int not null references subjects on delete cascade,
  earliest timestamptz not null,
  inserted_at timestamptz not null default clock_timestamp()
);
create index work_items_by_subject on work_items (subject_id);

create table subject_states (
  subject_id int primary key references subjects on delete cascade,
  -- raised by every save: a cached state counts only if this matches
  version bigint not null default 0,
  config_revision bigint not null,
  fold_version int not null,
  -- everything at or before has been taken into the stored state
  through timestamptz not null,
  state jsonb not null,
  standing jsonb not null,
  known_through timestamptz,
  wake_at timestamptz,
  wake_gateway text,
  wake_life_at timestamptz,
  -- fold again when every member that isn't unknown is known through this
  wake_members_at timestamptz,
  -- the fold failed on this subject and stopped: why
  stopped text,
  saved_at timestamptz not null default now()
);
create index subject_states_by_wake on subject_states (wake_at) where wake_at is not null;
create index subject_states_by_life on subject_states (wake_life_at) where wake_life_at is not null;

create table checkpoints (
  subject_id int not null references subjects on delete cascade,
  through timestamptz not null,
  config_revision bigint not null,
  fold_version int not null,
  state jsonb not null,
  primary key (subject_id, through)
);

create table events (
  id text primary key,
  subject_id int not null references subjects on delete cascade,
  site text not null,
  panel text,
  unit text,
  space text,
  kind text not null,
  cause text,
  certainty text not null,
  start_earliest timestamptz not null,
  start_latest timestamptz not null,
  end_latest timestamptz,
  discriminator text not null default '',
  -- the whole event but for what this row adds
  body jsonb not null,
  revision int not null,
  -- null: not settled, may still change while data arrive in order; else the state's `through` when it was decided
  settled_at timestamptz,
  -- ids of withdrawn events that this one stands for
  replaces text[] not null default '{}',
  inferred_at timestamptz not null default now(),
  withdrawn_at timestamptz,
  replaced_by text
);
create index events_by_site on events (site, start_latest);
create index events_by_subject on events (subject_id, start_latest);
create index events_by_kind on events (kind, start_latest);
create index events_open on events (subject_id) where end_latest is null and withdrawn_at is null;

-- what units tell their panels and spaces; `settled_at` as above
create table unit_edges (
  subject_id int not null references subjects on delete cascade,
  t timestamptz not null,
  place int not null,
  -- null: from the tail, written again at every step
  settled_at timestamptz,
  edge jsonb not null,
  primary key (subject_id, t, place)
);
create index unit_edges_by_settled on unit_edges (subject_id, settled_at);
