-- Recorders' files that were taken in to a panel (IEEE C37.111), kept as they came.
create table recordings (
  -- of site, panel and the files' bytes: the same file twice is one
  id text primary key,
  site text not null references sites on delete cascade,
  panel text not null,
  taken_at timestamptz not null,
  taken_by text not null,
  station text not null,
  device text not null,
  names text[] not null,
  contents bytea[] not null,
  starts_at timestamptz not null,
  ends_at timestamptz not null,
  -- first instant and voltages, as text: the same file in another reading is refused
  read_as text not null,
  voltages jsonb not null,
  faults jsonb not null,
  samples int not null
);
create index recordings_by_panel on recordings (site, panel, starts_at desc);
