-- The newest life of each gateway that a subject's last fold knew: { "<gateway>": µs }. A life that comes when the fold
-- has already gone past it (the gateway was silent, the others went on) is no work item, for it is the newest of its gateway;
-- it is found by comparing. Takes the place of the sum, which only told that something had moved.
alter table subject_states
  drop column folded_lives,
  add column folded_lives jsonb not null default '{}',
  -- the least of them; '-infinity' where a gateway was never heard, 'infinity' where there are none
  add column folded_least_life timestamptz not null default '-infinity';
create index subject_states_outlived on subject_states (subject_id) where through > folded_least_life;

alter table refolds add column folded_lives jsonb not null default '{}';
