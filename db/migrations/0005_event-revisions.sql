-- What was said of an event before, and why it was amended or withdrawn.
create table event_revisions (
  event_id text not null references events on delete cascade,
  revision int not null,
  -- start, end, cause, certainty, causeCertainty, pending, and whether it was withdrawn, as they stood under this revision
  said jsonb not null,
  said_at timestamptz not null,
  changed_at timestamptz not null default now(),
  -- why it was said no longer: { "kind": "late-data" | "configuration" | "rules" | "in-order", … }
  why jsonb not null,
  primary key (event_id, revision)
);

-- Why a subject is to be folded again, where it isn't for data in order: the point whose sample changed, or the
-- configuration's instant; a re-fold over several steps keeps it.
alter table work_items add column because jsonb;
alter table refolds add column because jsonb;
