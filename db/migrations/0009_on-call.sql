-- On call, escalation, notices and their delivery (handbook 7).

-- where somebody can be reached, in the order in which they want to be
create table channels (
  id uuid primary key default gen_random_uuid(),
  person uuid not null references people on delete cascade,
  kind text not null check (kind in ('e-mail', 'webhook', 'short-message')),
  address text not null check (char_length(address) between 3 and 2000),
  -- of a webhook: what signs its messages
  secret text,
  made_at timestamptz not null,
  -- since when it is known that messages come through: the person said so
  verified_at timestamptz,
  disabled_at timestamptz,
  disabled_why text,
  -- deliveries given up since the last that was accepted
  given_up int not null default 0,
  unique (person, kind, address)
);

create table rosters (
  id uuid primary key default gen_random_uuid(),
  name text not null unique check (char_length(name) between 1 and 100),
  document jsonb not null,
  changed_at timestamptz not null,
  changed_by text not null
);

create table overrides (
  id uuid primary key default gen_random_uuid(),
  roster uuid not null references rosters on delete cascade,
  from_at timestamptz not null,
  to_at timestamptz not null check (to_at > from_at),
  person uuid not null references people on delete cascade,
  why text not null check (char_length(why) <= 500),
  made_at timestamptz not null,
  made_by text not null
);
create index overrides_by_roster on overrides (roster, to_at);

create table policies (
  id uuid primary key default gen_random_uuid(),
  name text not null unique check (char_length(name) between 1 and 100),
  document jsonb not null,
  -- for sites that have none of their own; at most one
  is_default boolean not null default false,
  changed_at timestamptz not null,
  changed_by text not null
);
create unique index policies_default on policies (is_default) where is_default;

create table policy_sites (
  site text primary key references sites on delete cascade,
  policy uuid not null references policies on delete cascade
);

-- one a root alarm while somebody is to be told of it
create table escalations (
  alarm text primary key,
  site text not null references sites on delete cascade,
  severity text not null check (severity in ('critical', 'major', 'minor')),
  -- held: until the night is over; paging; owned: accepted, or on site; exhausted; over
  state text not null check (state in ('held', 'paging', 'owned', 'exhausted', 'over')),
  -- of the policy: the page that is next
  next_page int not null default 0,
  page_due_at timestamptz not null,
  -- when something is to be decided again, and when that was written, should the clock be set back
  due_at timestamptz,
  set_at timestamptz not null,
  started_at timestamptz not null,
  owner text,
  place text check (place in ('accepted', 'on-site')),
  owned_since timestamptz,
  asked_at timestamptz,
  needs_by timestamptz,
  -- what the alarm is: it has cleared, it is worse. Told by the next decision
  cleared boolean not null default false,
  ended_why text
);
create index escalations_due on escalations (due_at) where due_at is not null;
create index escalations_by_site on escalations (site, started_at desc);

-- one a person and root; what that person was told last
create table notices (
  id uuid primary key default gen_random_uuid(),
  alarm text not null references escalations on delete cascade,
  person uuid not null references people on delete cascade,
  severity text check (severity in ('critical', 'major', 'minor')),
  cleared boolean not null default false,
  owner text,
  made_at timestamptz not null,
  unique (alarm, person)
);
create index notices_by_person on notices (person, made_at desc);

-- a message of a notice by one channel: a row before it is sent, the same message however often it is tried
create table deliveries (
  id bigint primary key generated always as identity,
  -- null: a test of the channel
  notice uuid references notices on delete cascade,
  channel uuid not null references channels on delete cascade,
  -- which message of the notice: `page:3`, `cleared:2026-…`
  message text not null,
  reason text not null,
  -- as it is known to mail and webhooks: never another one for the same row
  message_id uuid not null unique default gen_random_uuid(),
  body jsonb not null,
  made_at timestamptz not null,
  due_at timestamptz not null,
  attempts int not null default 0,
  leased_until timestamptz,
  -- waiting; accepted by the next station, which isn't delivered; given-up; overtaken: nobody needs it any more
  state text not null default 'waiting' check (state in ('waiting', 'accepted', 'given-up', 'overtaken')),
  ended_at timestamptz,
  answer text,
  unique (notice, channel, message)
);
create index deliveries_due on deliveries (due_at) where state = 'waiting';
create index deliveries_by_channel on deliveries (channel, id desc);
create index deliveries_by_end on deliveries (ended_at) where ended_at is not null;

-- the link in a message: a number, to whom and for which alarm, until when. What makes it valid is its signature
create table accept_links (
  id bigint primary key generated always as identity,
  alarm text not null references escalations on delete cascade,
  person uuid not null references people on delete cascade,
  expires_at timestamptz not null,
  unique (alarm, person)
);
create index accept_links_by_end on accept_links (expires_at);

-- signs those links, and the addresses of calendar feeds; made at the first start
create table link_keys (
  only_row boolean primary key default true check (only_row),
  key bytea not null check (octet_length(key) = 32)
);
