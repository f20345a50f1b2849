-- Ingests that share the messages of one group at the broker. What one of them has heard counts only when all of them have
-- committed what they had received by then; one that is away keeps its row, and holds the horizon.
create table ingests (
  id text primary key,
  share text not null,
  registered_at timestamptz not null default now(),
  -- all that was sent to it up to this instant is committed: by its own clock, and as a number of `hearings`
  committed_t timestamptz not null,
  committed_in bigint not null,
  marked_at timestamptz not null default now()
);

-- Numbers what was heard, in the order of time, whatever any clock says.
create sequence hearings;

-- of each gateway the newest life that counts, and the one that is next to: once everyone has committed up to that number
alter table gateway_lives
  add column counted_t timestamptz not null default '-infinity',
  add column next_t timestamptz,
  add column next_in bigint;

-- Stretches in which an ingest may have missed something, though it or another was subscribed: no watched time.
create table watch_gaps (
  ingest text not null,
  from_t timestamptz not null,
  to_t timestamptz not null,
  primary key (ingest, from_t)
);

-- Who does what only one may do at a time; by the database's clock.
create table leases (
  name text primary key,
  holder text not null,
  until_t timestamptz not null,
  -- it does it now, and isn't still beginning
  is_online boolean not null default false
);

-- Through when anything was watched, and everything received is committed.
create view watched_through as
  select least((select max(to_t) from watch_marks), (select min(committed_t) from ingests)) as t;
