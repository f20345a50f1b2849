create table accept_links (
  id bigint not null generated always as identity,
  alarm text not null,
  person uuid not null,
  expires_at timestamp with time zone not null,
  constraint accept_links_alarm_fkey FOREIGN KEY (alarm) REFERENCES escalations(alarm) ON DELETE CASCADE,
  constraint accept_links_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint accept_links_pkey PRIMARY KEY (id),
  constraint accept_links_alarm_person_key UNIQUE (alarm, person)
);
CREATE INDEX accept_links_by_end ON public.accept_links USING btree (expires_at);

create table account_links (
  secret_hash bytea not null,
  person uuid not null,
  purpose text not null,
  created_at timestamp with time zone not null,
  expires_at timestamp with time zone not null,
  constraint account_links_purpose_check CHECK ((purpose = ANY (ARRAY['invitation'::text, 'password-reset'::text]))),
  constraint account_links_secret_hash_check CHECK ((octet_length(secret_hash) = 32)),
  constraint account_links_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint account_links_pkey PRIMARY KEY (secret_hash)
);
CREATE INDEX account_links_expires_at_idx ON public.account_links USING btree (expires_at);
CREATE INDEX account_links_person_idx ON public.account_links USING btree (person);

create table alarm_changes (
  id bigint not null generated always as identity,
  site text not null,
  alarm_id text,
  what text not null,
  at timestamp with time zone not null,
  event_at timestamp with time zone,
  by text,
  why text,
  events text[] not null default '{}'::text[],
  state text,
  severity text,
  saved_in xid8 not null default pg_current_xact_id(),
  constraint alarm_changes_alarm_id_fkey FOREIGN KEY (alarm_id) REFERENCES alarms(id) ON DELETE CASCADE,
  constraint alarm_changes_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_changes_pkey PRIMARY KEY (id)
);
CREATE INDEX alarm_changes_by_alarm ON public.alarm_changes USING btree (alarm_id, id);
CREATE INDEX alarm_changes_by_saved ON public.alarm_changes USING btree (saved_in);
CREATE INDEX alarm_changes_by_site ON public.alarm_changes USING btree (site, at);

create table alarm_commands (
  id uuid not null,
  site text not null,
  alarm_id text,
  command jsonb not null,
  by text not null,
  asked_at timestamp with time zone not null,
  outcome text,
  constraint alarm_commands_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_commands_pkey PRIMARY KEY (id)
);
CREATE INDEX alarm_commands_by_site ON public.alarm_commands USING btree (site, asked_at);
CREATE INDEX alarm_commands_undecided ON public.alarm_commands USING btree (site) WHERE (outcome IS NULL);

create table alarm_settings_changes (
  id bigint not null generated always as identity,
  site text not null,
  at timestamp with time zone not null,
  by text not null,
  rules jsonb not null,
  constraint alarm_settings_changes_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_settings_changes_pkey PRIMARY KEY (id)
);
CREATE INDEX alarm_settings_changes_by_site ON public.alarm_settings_changes USING btree (site, id DESC);

create table alarm_sites (
  site text not null,
  wake_at timestamp with time zone,
  wake_through timestamp with time zone,
  decided_through timestamp with time zone not null default '-infinity'::timestamp with time zone,
  lags jsonb not null default '{}'::jsonb,
  tuning jsonb not null default '[]'::jsonb,
  decided_at timestamp with time zone not null default now(),
  constraint alarm_sites_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_sites_pkey PRIMARY KEY (site)
);
CREATE INDEX alarm_sites_by_through ON public.alarm_sites USING btree (wake_through) WHERE (wake_through IS NOT NULL);
CREATE INDEX alarm_sites_by_wake ON public.alarm_sites USING btree (wake_at) WHERE (wake_at IS NOT NULL);

create table alarm_steps (
  id uuid not null,
  site text not null,
  alarm text not null,
  step text not null,
  person text not null,
  by text not null,
  at timestamp with time zone not null,
  said_at timestamp with time zone,
  constraint alarm_steps_step_check CHECK ((step = ANY (ARRAY['still-on-it'::text, 'on-my-way'::text, 'on-site'::text, 'left'::text]))),
  constraint alarm_steps_alarm_fkey FOREIGN KEY (alarm) REFERENCES alarms(id) ON DELETE CASCADE,
  constraint alarm_steps_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_steps_pkey PRIMARY KEY (id)
);
CREATE INDEX alarm_steps_by_alarm ON public.alarm_steps USING btree (alarm, at, id);

create table alarm_work (
  id bigint not null generated always as identity,
  site text not null,
  event_id text,
  what text not null,
  inserted_at timestamp with time zone not null default clock_timestamp(),
  constraint alarm_work_what_check CHECK ((what = ANY (ARRAY['added'::text, 'amended'::text, 'withdrawn'::text, 'asked'::text]))),
  constraint alarm_work_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarm_work_pkey PRIMARY KEY (id)
);
CREATE INDEX alarm_work_by_site ON public.alarm_work USING btree (site, id);

create table alarms (
  id text not null,
  site text not null,
  key text not null,
  rule text not null,
  severity text not null,
  state text not null,
  unit text,
  space text,
  panel text,
  raised_at timestamp with time zone not null,
  owner text,
  body jsonb not null,
  version integer not null,
  changed_at timestamp with time zone not null default now(),
  saved_in xid8 not null default pg_current_xact_id(),
  constraint alarms_severity_check CHECK ((severity = ANY (ARRAY['critical'::text, 'major'::text, 'minor'::text]))),
  constraint alarms_state_check CHECK ((state = ANY (ARRAY['A'::text, 'B'::text, 'C'::text, 'D'::text, 'E'::text, 'F'::text, 'G'::text, 'H'::text, 'I'::text]))),
  constraint alarms_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint alarms_pkey PRIMARY KEY (id)
);
CREATE INDEX alarms_by_saved ON public.alarms USING btree (saved_in);
CREATE INDEX alarms_by_site ON public.alarms USING btree (site, raised_at DESC, id);
CREATE INDEX alarms_by_unit ON public.alarms USING btree (site, unit, raised_at DESC) WHERE (unit IS NOT NULL);
CREATE UNIQUE INDEX alarms_open ON public.alarms USING btree (site, key) WHERE (state <> 'A'::text);

create table api_tokens (
  id uuid not null default gen_random_uuid(),
  secret_hash bytea not null,
  person uuid not null,
  name text not null,
  role text not null,
  sites text[],
  created_at timestamp with time zone not null,
  expires_at timestamp with time zone not null,
  used_at timestamp with time zone,
  constraint api_tokens_name_check CHECK (((char_length(name) >= 1) AND (char_length(name) <= 100))),
  constraint api_tokens_role_check CHECK ((role = ANY (ARRAY['viewer'::text, 'technician'::text, 'engineer'::text, 'administrator'::text]))),
  constraint api_tokens_secret_hash_check CHECK ((octet_length(secret_hash) = 32)),
  constraint api_tokens_sites_check CHECK (((sites IS NULL) OR (cardinality(sites) <= 1000))),
  constraint api_tokens_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint api_tokens_pkey PRIMARY KEY (id),
  constraint api_tokens_secret_hash_key UNIQUE (secret_hash)
);
CREATE INDEX api_tokens_person_idx ON public.api_tokens USING btree (person);

create table arrivals (
  site text not null,
  gateway text not null,
  minute timestamp with time zone not null,
  count integer not null,
  least_ms double precision not null,
  median_ms double precision not null,
  constraint arrivals_pkey PRIMARY KEY (site, gateway, minute)
);

create table audit (
  id bigint not null generated always as identity,
  at timestamp with time zone not null,
  actor_kind text not null,
  actor_id text not null,
  actor_name text not null,
  address text not null,
  action text not null,
  method text not null,
  path text not null,
  site text,
  detail jsonb,
  status integer,
  constraint audit_actor_kind_check CHECK ((actor_kind = ANY (ARRAY['person'::text, 'token'::text, 'machine'::text, 'nobody'::text]))),
  constraint audit_path_check CHECK ((char_length(path) <= 500)),
  constraint audit_pkey PRIMARY KEY (id)
);
CREATE INDEX audit_actor_id_id_idx ON public.audit USING btree (actor_id, id);
CREATE INDEX audit_at_idx ON public.audit USING btree (at);

create table channels (
  id uuid not null default gen_random_uuid(),
  person uuid not null,
  kind text not null,
  address text not null,
  secret text,
  made_at timestamp with time zone not null,
  verified_at timestamp with time zone,
  disabled_at timestamp with time zone,
  disabled_why text,
  given_up integer not null default 0,
  label text,
  constraint channels_address_check CHECK (((char_length(address) >= 3) AND (char_length(address) <= 2000))),
  constraint channels_kind_check CHECK ((kind = ANY (ARRAY['e-mail'::text, 'webhook'::text, 'short-message'::text, 'web-push'::text, 'voice'::text]))),
  constraint channels_label_check CHECK (((char_length(label) >= 1) AND (char_length(label) <= 100))),
  constraint channels_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint channels_pkey PRIMARY KEY (id),
  constraint channels_person_kind_address_key UNIQUE (person, kind, address)
);

create table checkpoints (
  subject_id integer not null,
  through timestamp with time zone not null,
  config_revision bigint not null,
  fold_version integer not null,
  state jsonb not null,
  floor_at timestamp with time zone,
  constraint checkpoints_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint checkpoints_pkey PRIMARY KEY (subject_id, through)
);

create table configuration (
  only_row boolean not null default true,
  revision bigint not null default 0,
  constraint configuration_only_row_check CHECK (only_row),
  constraint configuration_pkey PRIMARY KEY (only_row)
);

create table deliveries (
  id bigint not null generated always as identity,
  notice uuid,
  channel uuid not null,
  message text not null,
  reason text not null,
  message_id uuid not null default gen_random_uuid(),
  body jsonb not null,
  made_at timestamp with time zone not null,
  due_at timestamp with time zone not null,
  attempts integer not null default 0,
  leased_until timestamp with time zone,
  state text not null default 'waiting'::text,
  ended_at timestamp with time zone,
  answer text,
  constraint deliveries_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'accepted'::text, 'given-up'::text, 'overtaken'::text]))),
  constraint deliveries_channel_fkey FOREIGN KEY (channel) REFERENCES channels(id) ON DELETE CASCADE,
  constraint deliveries_notice_fkey FOREIGN KEY (notice) REFERENCES notices(id) ON DELETE CASCADE,
  constraint deliveries_pkey PRIMARY KEY (id),
  constraint deliveries_message_id_key UNIQUE (message_id),
  constraint deliveries_notice_channel_message_key UNIQUE (notice, channel, message)
);
CREATE INDEX deliveries_by_channel ON public.deliveries USING btree (channel, id DESC);
CREATE INDEX deliveries_by_end ON public.deliveries USING btree (ended_at) WHERE (ended_at IS NOT NULL);
CREATE INDEX deliveries_due ON public.deliveries USING btree (due_at) WHERE (state = 'waiting'::text);

create table digest_settings (
  person uuid not null,
  is_on boolean not null,
  at_minutes integer not null,
  zone text not null,
  weekday integer not null,
  is_monthly boolean not null default false,
  constraint digest_settings_at_minutes_check CHECK (((at_minutes >= 0) AND (at_minutes <= 1439))),
  constraint digest_settings_weekday_check CHECK (((weekday >= 1) AND (weekday <= 7))),
  constraint digest_settings_zone_check CHECK (((char_length(zone) >= 1) AND (char_length(zone) <= 64))),
  constraint digest_settings_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint digest_settings_pkey PRIMARY KEY (person)
);

create table digests (
  person uuid not null,
  day date not null,
  kind text not null,
  made_at timestamp with time zone not null,
  constraint digests_kind_check CHECK ((kind = ANY (ARRAY['daily'::text, 'weekly'::text, 'nothing'::text]))),
  constraint digests_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint digests_pkey PRIMARY KEY (person, day)
);

create table escalations (
  alarm text not null,
  site text not null,
  severity text not null,
  state text not null,
  next_page integer not null default 0,
  page_due_at timestamp with time zone not null,
  due_at timestamp with time zone,
  set_at timestamp with time zone not null,
  started_at timestamp with time zone not null,
  owner text,
  place text,
  owned_since timestamp with time zone,
  asked_at timestamp with time zone,
  needs_by timestamp with time zone,
  cleared boolean not null default false,
  ended_why text,
  constraint escalations_place_check CHECK ((place = ANY (ARRAY['accepted'::text, 'on-site'::text]))),
  constraint escalations_severity_check CHECK ((severity = ANY (ARRAY['critical'::text, 'major'::text, 'minor'::text]))),
  constraint escalations_state_check CHECK ((state = ANY (ARRAY['held'::text, 'paging'::text, 'owned'::text, 'exhausted'::text, 'over'::text]))),
  constraint escalations_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint escalations_pkey PRIMARY KEY (alarm)
);
CREATE INDEX escalations_by_site ON public.escalations USING btree (site, started_at DESC);
CREATE INDEX escalations_due ON public.escalations USING btree (due_at) WHERE (due_at IS NOT NULL);

create table event_revisions (
  event_id text not null,
  revision integer not null,
  said jsonb not null,
  said_at timestamp with time zone not null,
  changed_at timestamp with time zone not null default now(),
  why jsonb not null,
  constraint event_revisions_event_id_fkey FOREIGN KEY (event_id) REFERENCES events(id) ON DELETE CASCADE,
  constraint event_revisions_pkey PRIMARY KEY (event_id, revision)
);

create table events (
  id text not null,
  subject_id integer not null,
  site text not null,
  panel text,
  unit text,
  space text,
  kind text not null,
  cause text,
  certainty text not null,
  start_earliest timestamp with time zone not null,
  start_latest timestamp with time zone not null,
  end_latest timestamp with time zone,
  discriminator text not null default ''::text,
  body jsonb not null,
  revision integer not null,
  settled_at timestamp with time zone,
  replaces text[] not null default '{}'::text[],
  inferred_at timestamp with time zone not null default now(),
  withdrawn_at timestamp with time zone,
  replaced_by text,
  saved_in xid8 not null default pg_current_xact_id(),
  constraint events_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint events_pkey PRIMARY KEY (id)
);
CREATE INDEX events_by_kind ON public.events USING btree (kind, start_latest);
CREATE INDEX events_by_saved ON public.events USING btree (saved_in);
CREATE INDEX events_by_settled ON public.events USING btree (subject_id, settled_at) WHERE (withdrawn_at IS NULL);
CREATE INDEX events_by_site ON public.events USING btree (site, start_latest);
CREATE INDEX events_by_site_end ON public.events USING btree (site, end_latest) WHERE (withdrawn_at IS NULL);
CREATE INDEX events_by_subject ON public.events USING btree (subject_id, start_latest);
CREATE INDEX events_open ON public.events USING btree (subject_id) WHERE ((end_latest IS NULL) AND (withdrawn_at IS NULL));
CREATE INDEX events_unsettled ON public.events USING btree (subject_id) WHERE ((settled_at IS NULL) AND (withdrawn_at IS NULL));

create table failed_attempts (
  key bytea not null,
  count integer not null,
  since timestamp with time zone not null,
  constraint failed_attempts_key_check CHECK ((octet_length(key) = 32)),
  constraint failed_attempts_pkey PRIMARY KEY (key)
);
CREATE INDEX failed_attempts_since_idx ON public.failed_attempts USING btree (since);

create table findings (
  id uuid not null,
  site text not null,
  alarm text not null,
  unit text,
  person text not null,
  by text not null,
  at timestamp with time zone not null,
  said_at timestamp with time zone,
  body jsonb not null,
  constraint findings_alarm_fkey FOREIGN KEY (alarm) REFERENCES alarms(id) ON DELETE CASCADE,
  constraint findings_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint findings_pkey PRIMARY KEY (id)
);
CREATE INDEX findings_by_alarm ON public.findings USING btree (alarm, at, id);
CREATE INDEX findings_by_unit ON public.findings USING btree (site, unit, at DESC);

create table gateway_credentials (
  id uuid not null default gen_random_uuid(),
  site text not null,
  gateway text not null,
  kind text not null,
  username text not null,
  secret text,
  fingerprint bytea,
  certificate text,
  made_at timestamp with time zone not null,
  made_by text not null,
  ends_at timestamp with time zone,
  revoked_at timestamp with time zone,
  used_at timestamp with time zone,
  used_from text,
  constraint gateway_credentials_certificate_check CHECK ((char_length(certificate) <= 16384)),
  constraint gateway_credentials_check CHECK (((kind = 'password'::text) = (secret IS NOT NULL))),
  constraint gateway_credentials_check1 CHECK (((kind = 'certificate'::text) = ((fingerprint IS NOT NULL) AND (certificate IS NOT NULL)))),
  constraint gateway_credentials_fingerprint_check CHECK ((octet_length(fingerprint) = 32)),
  constraint gateway_credentials_kind_check CHECK ((kind = ANY (ARRAY['password'::text, 'certificate'::text]))),
  constraint gateway_credentials_username_check CHECK (((char_length(username) >= 1) AND (char_length(username) <= 128))),
  constraint gateway_credentials_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint gateway_credentials_pkey PRIMARY KEY (id),
  constraint gateway_credentials_fingerprint_key UNIQUE (fingerprint),
  constraint gateway_credentials_username_key UNIQUE (username)
);
CREATE INDEX gateway_credentials_site_gateway_idx ON public.gateway_credentials USING btree (site, gateway);

create table gateway_lives (
  site text not null,
  gateway text not null,
  t timestamp with time zone not null,
  counted_t timestamp with time zone not null default '-infinity'::timestamp with time zone,
  next_t timestamp with time zone,
  next_in bigint,
  constraint gateway_lives_pkey PRIMARY KEY (site, gateway)
);

create table gateway_refusals (
  why text not null,
  username text not null,
  address text not null,
  client text not null,
  detail text not null,
  first_at timestamp with time zone not null,
  last_at timestamp with time zone not null,
  times bigint not null,
  constraint gateway_refusals_address_check CHECK ((char_length(address) <= 64)),
  constraint gateway_refusals_client_check CHECK ((char_length(client) <= 128)),
  constraint gateway_refusals_detail_check CHECK ((char_length(detail) <= 300)),
  constraint gateway_refusals_username_check CHECK ((char_length(username) <= 128)),
  constraint gateway_refusals_pkey PRIMARY KEY (why, username, address)
);
CREATE INDEX gateway_refusals_last_at_idx ON public.gateway_refusals USING btree (last_at);

create table heard_topics (
  topic text not null,
  pointer text not null,
  body jsonb not null,
  last_at timestamp with time zone not null,
  ignored_at timestamp with time zone,
  ignored_by text,
  constraint heard_topics_pkey PRIMARY KEY (topic, pointer)
);
CREATE INDEX heard_topics_by_time ON public.heard_topics USING btree (last_at);

create table identities (
  issuer text not null,
  subject text not null,
  person uuid not null,
  created_at timestamp with time zone not null,
  constraint identities_issuer_check CHECK (((char_length(issuer) >= 1) AND (char_length(issuer) <= 500))),
  constraint identities_subject_check CHECK (((char_length(subject) >= 1) AND (char_length(subject) <= 255))),
  constraint identities_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint identities_pkey PRIMARY KEY (issuer, subject),
  constraint identities_person_issuer_key UNIQUE (person, issuer)
);

create table ingests (
  id text not null,
  share text not null,
  registered_at timestamp with time zone not null default now(),
  committed_t timestamp with time zone not null,
  committed_in bigint not null,
  marked_at timestamp with time zone not null default now(),
  constraint ingests_pkey PRIMARY KEY (id)
);

create table intervals (
  point_id integer not null,
  t timestamp with time zone not null,
  from_t timestamp with time zone not null,
  least double precision not null,
  most double precision not null,
  mean double precision,
  quality smallint not null,
  constraint intervals_pkey PRIMARY KEY (point_id, t, from_t)
);

create table last_heard (
  point_id integer not null,
  heard_at timestamp with time zone not null,
  value double precision not null,
  why text not null,
  constraint last_heard_pkey PRIMARY KEY (point_id)
);

create table leases (
  name text not null,
  holder text not null,
  until_t timestamp with time zone not null,
  is_online boolean not null default false,
  constraint leases_pkey PRIMARY KEY (name)
);

create table link_keys (
  only_row boolean not null default true,
  key bytea not null,
  constraint link_keys_key_check CHECK ((octet_length(key) = 32)),
  constraint link_keys_only_row_check CHECK (only_row),
  constraint link_keys_pkey PRIMARY KEY (only_row)
);

create table migrations (
  number integer not null,
  name text not null,
  digest text not null,
  applied_at timestamp with time zone not null default now(),
  constraint migrations_pkey PRIMARY KEY (number)
);

create table notices (
  id uuid not null default gen_random_uuid(),
  alarm text not null,
  person uuid not null,
  severity text,
  cleared boolean not null default false,
  owner text,
  made_at timestamp with time zone not null,
  constraint notices_severity_check CHECK ((severity = ANY (ARRAY['critical'::text, 'major'::text, 'minor'::text]))),
  constraint notices_alarm_fkey FOREIGN KEY (alarm) REFERENCES escalations(alarm) ON DELETE CASCADE,
  constraint notices_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint notices_pkey PRIMARY KEY (id),
  constraint notices_alarm_person_key UNIQUE (alarm, person)
);
CREATE INDEX notices_by_person ON public.notices USING btree (person, made_at DESC);

create table overrides (
  id uuid not null default gen_random_uuid(),
  roster uuid not null,
  from_at timestamp with time zone not null,
  to_at timestamp with time zone not null,
  person uuid not null,
  why text not null,
  made_at timestamp with time zone not null,
  made_by text not null,
  constraint overrides_check CHECK ((to_at > from_at)),
  constraint overrides_why_check CHECK ((char_length(why) <= 500)),
  constraint overrides_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint overrides_roster_fkey FOREIGN KEY (roster) REFERENCES rosters(id) ON DELETE CASCADE,
  constraint overrides_pkey PRIMARY KEY (id)
);
CREATE INDEX overrides_by_roster ON public.overrides USING btree (roster, to_at);

create table people (
  id uuid not null default gen_random_uuid(),
  name text not null,
  email text not null,
  role text not null,
  sites text[],
  password text,
  created_at timestamp with time zone not null,
  closed_at timestamp with time zone,
  constraint people_email_check CHECK (((email = lower(email)) AND ((char_length(email) >= 3) AND (char_length(email) <= 254)))),
  constraint people_name_check CHECK (((char_length(name) >= 1) AND (char_length(name) <= 100))),
  constraint people_role_check CHECK ((role = ANY (ARRAY['viewer'::text, 'technician'::text, 'engineer'::text, 'administrator'::text]))),
  constraint people_sites_check CHECK (((sites IS NULL) OR (cardinality(sites) <= 1000))),
  constraint people_pkey PRIMARY KEY (id),
  constraint people_email_key UNIQUE (email)
);

create table point_subjects (
  point_id integer not null,
  subject_id integer not null,
  constraint point_subjects_point_id_fkey FOREIGN KEY (point_id) REFERENCES points(id) ON DELETE CASCADE,
  constraint point_subjects_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint point_subjects_pkey PRIMARY KEY (point_id, subject_id)
);
CREATE INDEX point_subjects_by_subject ON public.point_subjects USING btree (subject_id);

create table points (
  id integer not null generated always as identity,
  site text not null,
  device text not null,
  signal text not null,
  constraint points_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint points_pkey PRIMARY KEY (id),
  constraint points_site_device_signal_key UNIQUE (site, device, signal)
);

create table policies (
  id uuid not null default gen_random_uuid(),
  name text not null,
  document jsonb not null,
  is_default boolean not null default false,
  changed_at timestamp with time zone not null,
  changed_by text not null,
  constraint policies_name_check CHECK (((char_length(name) >= 1) AND (char_length(name) <= 100))),
  constraint policies_pkey PRIMARY KEY (id),
  constraint policies_name_key UNIQUE (name)
);
CREATE UNIQUE INDEX policies_default ON public.policies USING btree (is_default) WHERE is_default;

create table policy_sites (
  site text not null,
  policy uuid not null,
  constraint policy_sites_policy_fkey FOREIGN KEY (policy) REFERENCES policies(id) ON DELETE CASCADE,
  constraint policy_sites_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint policy_sites_pkey PRIMARY KEY (site)
);

create table proof_marks (
  id uuid not null,
  session uuid not null,
  kind text not null,
  subject text not null,
  person text not null,
  by text not null,
  at timestamp with time zone not null,
  said_at timestamp with time zone,
  clock_ahead_ms double precision,
  note text not null,
  constraint proof_marks_session_fkey FOREIGN KEY (session) REFERENCES proof_sessions(id) ON DELETE CASCADE,
  constraint proof_marks_pkey PRIMARY KEY (id)
);
CREATE INDEX proof_marks_by_session ON public.proof_marks USING btree (session, at, id);

create table proof_sessions (
  id uuid not null,
  site text not null,
  from_at timestamp with time zone not null,
  ended_at timestamp with time zone,
  person text not null,
  by text not null,
  drill text,
  drill_at timestamp with time zone,
  drill_answered_at timestamp with time zone,
  drill_answered_by text,
  record jsonb,
  judged_at timestamp with time zone,
  constraint proof_sessions_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint proof_sessions_pkey PRIMARY KEY (id),
  constraint proof_sessions_drill_key UNIQUE (drill)
);
CREATE INDEX proof_sessions_by_site ON public.proof_sessions USING btree (site, from_at DESC);
CREATE UNIQUE INDEX proof_sessions_open ON public.proof_sessions USING btree (site) WHERE (ended_at IS NULL);

create table proof_ticks (
  session uuid not null,
  item text not null,
  happened_at timestamp with time zone not null,
  arrived_at timestamp with time zone not null,
  constraint proof_ticks_session_fkey FOREIGN KEY (session) REFERENCES proof_sessions(id) ON DELETE CASCADE,
  constraint proof_ticks_pkey PRIMARY KEY (session, item)
);

create table proposal_steps (
  id uuid not null,
  proposal uuid not null,
  step text not null,
  person text,
  by text not null,
  at timestamp with time zone not null,
  from_at timestamp with time zone,
  read_backs jsonb,
  note text not null,
  constraint proposal_steps_step_check CHECK ((step = ANY (ARRAY['agree'::text, 'set'::text, 'withdraw'::text]))),
  constraint proposal_steps_proposal_fkey FOREIGN KEY (proposal) REFERENCES proposals(id) ON DELETE CASCADE,
  constraint proposal_steps_pkey PRIMARY KEY (id)
);
CREATE INDEX proposal_steps_by_proposal ON public.proposal_steps USING btree (proposal, at, id);

create table proposals (
  id uuid not null,
  site text not null,
  panel text not null,
  drafted_at timestamp with time zone not null,
  drafted_by text not null,
  state text not null,
  plan jsonb not null,
  constraint proposals_state_check CHECK ((state = ANY (ARRAY['drafted'::text, 'agreed'::text, 'set'::text, 'withdrawn'::text]))),
  constraint proposals_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint proposals_pkey PRIMARY KEY (id)
);
CREATE INDEX proposals_by_panel ON public.proposals USING btree (site, panel, drafted_at DESC);
CREATE UNIQUE INDEX proposals_open ON public.proposals USING btree (site, panel) WHERE (state = ANY (ARRAY['drafted'::text, 'agreed'::text]));

create table push_keys (
  only_row boolean not null default true,
  private_key bytea not null,
  constraint push_keys_only_row_check CHECK (only_row),
  constraint push_keys_private_key_check CHECK ((octet_length(private_key) = 32)),
  constraint push_keys_pkey PRIMARY KEY (only_row)
);

create table record_floor (
  only_row boolean not null default true,
  at timestamp with time zone not null,
  kept_from timestamp with time zone not null,
  moved_at timestamp with time zone not null default now(),
  constraint record_floor_check CHECK ((kept_from < at)),
  constraint record_floor_only_row_check CHECK (only_row),
  constraint record_floor_pkey PRIMARY KEY (only_row)
);

create table recordings (
  id text not null,
  site text not null,
  panel text not null,
  taken_at timestamp with time zone not null,
  taken_by text not null,
  station text not null,
  device text not null,
  names text[] not null,
  contents bytea[] not null,
  starts_at timestamp with time zone not null,
  ends_at timestamp with time zone not null,
  read_as text not null,
  voltages jsonb not null,
  faults jsonb not null,
  samples integer not null,
  constraint recordings_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint recordings_pkey PRIMARY KEY (id)
);
CREATE INDEX recordings_by_panel ON public.recordings USING btree (site, panel, starts_at DESC);

create table refold_edges (
  subject_id integer not null,
  number integer not null,
  settled_at timestamp with time zone not null,
  edge jsonb not null,
  constraint refold_edges_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES refolds(subject_id) ON DELETE CASCADE,
  constraint refold_edges_pkey PRIMARY KEY (subject_id, number)
);

create table refold_events (
  subject_id integer not null,
  id text not null,
  settled_at timestamp with time zone not null,
  body jsonb not null,
  constraint refold_events_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES refolds(subject_id) ON DELETE CASCADE,
  constraint refold_events_pkey PRIMARY KEY (subject_id, id)
);

create table refolds (
  subject_id integer not null,
  base timestamp with time zone not null,
  fold_version integer not null,
  through timestamp with time zone not null,
  state jsonb not null,
  started_at timestamp with time zone not null default now(),
  folded_lives jsonb not null default '{}'::jsonb,
  because jsonb,
  constraint refolds_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint refolds_pkey PRIMARY KEY (subject_id)
);

create table rejected (
  id bigint not null generated always as identity,
  received_at timestamp with time zone not null default now(),
  topic text not null,
  reason text not null,
  detail text not null default ''::text,
  payload bytea not null,
  payload_bytes integer not null,
  constraint rejected_pkey PRIMARY KEY (id)
);
CREATE INDEX rejected_by_time ON public.rejected USING btree (received_at);

create table reports (
  person uuid not null,
  month text not null,
  made_at timestamp with time zone not null,
  constraint reports_month_check CHECK ((month ~ '^\d{4}-\d{2}$'::text)),
  constraint reports_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint reports_pkey PRIMARY KEY (person, month)
);

create table rollup_marks (
  point_id integer not null,
  from_t timestamp with time zone not null,
  to_t timestamp with time zone not null,
  constraint rollup_marks_pkey PRIMARY KEY (point_id, from_t)
);

create table rollup_work (
  point_id integer not null,
  from_t timestamp with time zone not null,
  to_t timestamp with time zone not null,
  constraint rollup_work_pkey PRIMARY KEY (point_id, from_t)
);

create table rosters (
  id uuid not null default gen_random_uuid(),
  name text not null,
  document jsonb not null,
  changed_at timestamp with time zone not null,
  changed_by text not null,
  constraint rosters_name_check CHECK (((char_length(name) >= 1) AND (char_length(name) <= 100))),
  constraint rosters_pkey PRIMARY KEY (id),
  constraint rosters_name_key UNIQUE (name)
);

create table sample_rollups (
  point_id integer not null,
  from_t timestamp with time zone not null,
  first_t timestamp with time zone not null,
  last_t timestamp with time zone not null,
  least double precision not null,
  most double precision not null,
  total double precision not null,
  good integer not null,
  last_value double precision not null,
  constraint sample_rollups_pkey PRIMARY KEY (point_id, from_t)
);

create table samples (
  point_id integer not null,
  t timestamp with time zone not null,
  value double precision not null,
  quality smallint not null,
  constraint samples_pkey PRIMARY KEY (point_id, t)
) partition by range (t);

create table sessions (
  secret_hash bytea not null,
  id uuid not null default gen_random_uuid(),
  person uuid not null,
  created_at timestamp with time zone not null,
  seen_at timestamp with time zone not null,
  ends_at timestamp with time zone not null,
  address text not null,
  browser text not null,
  constraint sessions_browser_check CHECK ((char_length(browser) <= 200)),
  constraint sessions_secret_hash_check CHECK ((octet_length(secret_hash) = 32)),
  constraint sessions_person_fkey FOREIGN KEY (person) REFERENCES people(id) ON DELETE CASCADE,
  constraint sessions_pkey PRIMARY KEY (secret_hash),
  constraint sessions_id_key UNIQUE (id)
);
CREATE INDEX sessions_ends_at_idx ON public.sessions USING btree (ends_at);
CREATE INDEX sessions_person_idx ON public.sessions USING btree (person);

create table site_documents (
  site text not null,
  from_at timestamp with time zone not null,
  document jsonb not null,
  put_at timestamp with time zone not null default now(),
  put_by text not null default ''::text,
  constraint site_documents_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint site_documents_pkey PRIMARY KEY (site, from_at)
);

create table site_saves (
  id bigint not null generated always as identity,
  site text not null,
  revision bigint not null,
  from_at timestamp with time zone not null,
  document jsonb not null,
  put_at timestamp with time zone not null default now(),
  put_by text not null default ''::text,
  constraint site_saves_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint site_saves_pkey PRIMARY KEY (id)
);
CREATE INDEX site_saves_by_site ON public.site_saves USING btree (site, id);

create table sites (
  id text not null,
  revision bigint not null,
  created_at timestamp with time zone not null default now(),
  constraint sites_pkey PRIMARY KEY (id)
);

create table subject_members (
  subject_id integer not null,
  member_id integer not null,
  constraint subject_members_member_id_fkey FOREIGN KEY (member_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint subject_members_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint subject_members_pkey PRIMARY KEY (subject_id, member_id)
);
CREATE INDEX subject_members_by_member ON public.subject_members USING btree (member_id);

create table subject_states (
  subject_id integer not null,
  version bigint not null default 0,
  config_revision bigint not null,
  fold_version integer not null,
  through timestamp with time zone not null,
  state jsonb not null,
  standing jsonb not null,
  known_through timestamp with time zone,
  wake_at timestamp with time zone,
  wake_gateway text,
  wake_life_at timestamp with time zone,
  wake_members_at timestamp with time zone,
  stopped text,
  saved_at timestamp with time zone not null default now(),
  folded_now timestamp with time zone not null default '-infinity'::timestamp with time zone,
  folded_watch timestamp with time zone not null default '-infinity'::timestamp with time zone,
  folded_life timestamp with time zone not null default '-infinity'::timestamp with time zone,
  folded_members timestamp with time zone not null default '-infinity'::timestamp with time zone,
  dirty_from timestamp with time zone,
  saved_in xid8 not null default pg_current_xact_id(),
  folded_lives jsonb not null default '{}'::jsonb,
  folded_least_life timestamp with time zone not null default '-infinity'::timestamp with time zone,
  held boolean not null default true,
  folded_known jsonb,
  constraint subject_states_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint subject_states_pkey PRIMARY KEY (subject_id)
);
CREATE INDEX subject_states_by_life ON public.subject_states USING btree (wake_life_at) WHERE (wake_life_at IS NOT NULL);
CREATE INDEX subject_states_by_members ON public.subject_states USING btree (wake_members_at) WHERE (wake_members_at IS NOT NULL);
CREATE INDEX subject_states_by_saved ON public.subject_states USING btree (saved_in);
CREATE INDEX subject_states_by_wake ON public.subject_states USING btree (wake_at) WHERE (wake_at IS NOT NULL);
CREATE INDEX subject_states_outlived ON public.subject_states USING btree (subject_id) WHERE ((through > folded_least_life) OR (folded_least_life = '-infinity'::timestamp with time zone));

create table subjects (
  id integer not null generated always as identity,
  site text not null,
  kind text not null,
  device text not null,
  constraint subjects_kind_check CHECK ((kind = ANY (ARRAY['unit'::text, 'panel'::text, 'space'::text, 'gateway'::text, 'site'::text]))),
  constraint subjects_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint subjects_pkey PRIMARY KEY (id),
  constraint subjects_site_kind_device_key UNIQUE (site, kind, device)
);

create table tasks (
  id text not null,
  site text not null,
  key text not null,
  rule text not null,
  unit text,
  body jsonb not null,
  opened_at timestamp with time zone not null,
  closed_at timestamp with time zone,
  saved_in xid8 not null default pg_current_xact_id(),
  constraint tasks_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint tasks_pkey PRIMARY KEY (id)
);
CREATE INDEX tasks_by_site ON public.tasks USING btree (site, opened_at DESC, id);
CREATE UNIQUE INDEX tasks_open ON public.tasks USING btree (site, key) WHERE (closed_at IS NULL);

create table topics_listened (
  only_row boolean not null default true,
  filters text[] not null,
  until_at timestamp with time zone not null,
  asked_by text not null,
  asked_at timestamp with time zone not null,
  constraint topics_listened_filters_check CHECK (((cardinality(filters) >= 1) AND (cardinality(filters) <= 10))),
  constraint topics_listened_only_row_check CHECK (only_row),
  constraint topics_listened_pkey PRIMARY KEY (only_row)
);

create table unit_edges (
  subject_id integer not null,
  t timestamp with time zone not null,
  place integer not null,
  settled_at timestamp with time zone,
  edge jsonb not null,
  constraint unit_edges_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint unit_edges_pkey PRIMARY KEY (subject_id, t, place)
);
CREATE INDEX unit_edges_by_settled ON public.unit_edges USING btree (subject_id, settled_at);
CREATE INDEX unit_edges_unsettled ON public.unit_edges USING btree (subject_id) WHERE (settled_at IS NULL);

create table watch_gaps (
  ingest text not null,
  from_t timestamp with time zone not null,
  to_t timestamp with time zone not null,
  constraint watch_gaps_pkey PRIMARY KEY (ingest, from_t)
);

create table watch_marks (
  ingest text not null,
  from_t timestamp with time zone not null,
  to_t timestamp with time zone not null,
  constraint watch_marks_pkey PRIMARY KEY (ingest, from_t)
);

create table waveforms (
  point_id integer not null,
  t timestamp with time zone not null,
  step_seconds double precision not null,
  scale double precision not null,
  values bytea not null,
  constraint waveforms_pkey PRIMARY KEY (point_id, t)
);

create table work_items (
  id bigint not null generated always as identity,
  subject_id integer not null,
  earliest timestamp with time zone not null,
  inserted_at timestamp with time zone not null default clock_timestamp(),
  because jsonb,
  urgent boolean not null default false,
  constraint work_items_subject_id_fkey FOREIGN KEY (subject_id) REFERENCES subjects(id) ON DELETE CASCADE,
  constraint work_items_pkey PRIMARY KEY (id)
);
CREATE INDEX work_items_by_subject ON public.work_items USING btree (subject_id);
CREATE INDEX work_items_urgent ON public.work_items USING btree (id) WHERE urgent;

create table works (
  id uuid not null,
  site text not null,
  units text[] not null,
  by text not null,
  from_at timestamp with time zone not null,
  until_at timestamp with time zone not null,
  ended_at timestamp with time zone,
  constraint works_site_fkey FOREIGN KEY (site) REFERENCES sites(id) ON DELETE CASCADE,
  constraint works_pkey PRIMARY KEY (id)
);
CREATE INDEX works_by_site ON public.works USING btree (site, from_at);
