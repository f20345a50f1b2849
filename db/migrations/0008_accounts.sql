-- People who may sign in, and everybody else who is named in a rotation: one table, so that whoever acts has one name.
create table people (
  id uuid primary key default gen_random_uuid(),
  name text not null check (char_length(name) between 1 and 100),
  -- as it is compared: without case
  email text not null unique check (email = lower(email) and char_length(email) between 3 and 254),
  role text not null check (role in ('viewer', 'technician', 'engineer', 'administrator')),
  -- null: every site, also those that are made later
  sites text[] check (sites is null or cardinality(sites) <= 1000),
  -- argon2id in its own text form; null: hasn't chosen one yet
  password text,
  created_at timestamptz not null,
  -- since when they may not sign in; null: they may
  closed_at timestamptz
);

-- Who is signed in where. The cookie's secret itself is kept nowhere: its SHA-256 is.
create table sessions (
  secret_hash bytea primary key check (octet_length(secret_hash) = 32),
  -- by which it is named in lists
  id uuid not null unique default gen_random_uuid(),
  person uuid not null references people on delete cascade,
  created_at timestamptz not null,
  seen_at timestamptz not null,
  -- the latest that it may last, however much it is used
  ends_at timestamptz not null,
  address text not null,
  browser text not null check (char_length(browser) <= 200)
);
create index on sessions (person);
create index on sessions (ends_at);

-- Links that let somebody choose a password: once, until they expire.
create table account_links (
  secret_hash bytea primary key check (octet_length(secret_hash) = 32),
  person uuid not null references people on delete cascade,
  purpose text not null check (purpose in ('invitation', 'password-reset')),
  created_at timestamptz not null,
  expires_at timestamptz not null
);
create index on account_links (person);
create index on account_links (expires_at);

-- Tokens for programs: each acts for the person who made it, with at most that person's rights.
create table api_tokens (
  id uuid primary key default gen_random_uuid(),
  secret_hash bytea not null unique check (octet_length(secret_hash) = 32),
  person uuid not null references people on delete cascade,
  name text not null check (char_length(name) between 1 and 100),
  role text not null check (role in ('viewer', 'technician', 'engineer', 'administrator')),
  sites text[] check (sites is null or cardinality(sites) <= 1000),
  created_at timestamptz not null,
  expires_at timestamptz not null,
  used_at timestamptz
);
create index on api_tokens (person);

-- How often somebody has tried in vain, by a digest of whom or from where: no list of addresses lies about.
create table failed_attempts (
  key bytea primary key check (octet_length(key) = 32),
  count int not null,
  since timestamptz not null
);
create index on failed_attempts (since);

-- Who changed what, when and from where. Written before the change; `status` follows when it has been answered.
create table audit (
  id bigint generated always as identity primary key,
  at timestamptz not null,
  actor_kind text not null check (actor_kind in ('person', 'token', 'machine', 'nobody')),
  actor_id text not null,
  actor_name text not null,
  address text not null,
  action text not null,
  method text not null,
  path text not null check (char_length(path) <= 500),
  site text,
  -- what was changed, without secrets; bounded by whoever writes it
  detail jsonb,
  -- HTTP's; null: it wasn't answered
  status int
);
create index on audit (at);
create index on audit (actor_id, id);
