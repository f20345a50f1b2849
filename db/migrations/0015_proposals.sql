-- Proposals of other delays for a panel's units, and what people did about them (handbook 5.4).
create table proposals (
  id uuid primary key,
  site text not null references sites on delete cascade,
  panel text not null,
  drafted_at timestamptz not null,
  drafted_by text not null,
  state text not null check (state in ('drafted', 'agreed', 'set', 'withdrawn')),
  -- the plan as it was drafted
  plan jsonb not null
);
create index proposals_by_panel on proposals (site, panel, drafted_at desc);
-- one at a time waits to be set on a panel
create unique index proposals_open on proposals (site, panel) where state in ('drafted', 'agreed');

-- rows are only ever added
create table proposal_steps (
  id uuid primary key,
  proposal uuid not null references proposals on delete cascade,
  step text not null check (step in ('agree', 'set', 'withdraw')),
  person text,
  by text not null,
  at timestamptz not null,
  -- of what was set: from when on it holds
  from_at timestamptz,
  -- of what was set: what each dial or display shows
  read_backs jsonb,
  note text not null
);
create index proposal_steps_by_proposal on proposal_steps (proposal, at, id);
