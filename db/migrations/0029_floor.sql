-- The floor: the oldest instant that is retained. Samples before it come too late; every subject that has a state keeps a
-- checkpoint for good there, and what was decided up to it is never changed again.
create table record_floor (
  only_row boolean primary key default true check (only_row),
  at timestamptz not null,
  -- samples from here on are kept: what is folded anew at the floor learns from them what stands
  kept_from timestamptz not null check (kept_from < at),
  moved_at timestamptz not null default now()
);

-- of the checkpoint that is kept at the floor: which floor; null: one of the ordinary ones, which come and go
alter table checkpoints add column floor_at timestamptz;
