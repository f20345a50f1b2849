-- Samples of five minutes each, so that a year can be drawn without reading a year of them (db/rollups.ts).

-- of a point's good samples from from_t on, raw values
create table sample_rollups (
  point_id int not null,
  from_t timestamptz not null,
  first_t timestamptz not null,
  last_t timestamptz not null,
  least float8 not null,
  most float8 not null,
  total float8 not null,
  good int not null,
  last_value float8 not null,
  primary key (point_id, from_t)
);

-- stretches whose samples have changed since they were rolled up, written with the samples
create table rollup_marks (
  point_id int not null,
  from_t timestamptz not null,
  to_t timestamptz not null,
  primary key (point_id, from_t)
);

-- those that are being rolled up now
create table rollup_work (
  point_id int not null,
  from_t timestamptz not null,
  to_t timestamptz not null,
  primary key (point_id, from_t)
);

-- what was stored before: a mark for each day that lies between a point's first sample and its last
insert into rollup_marks (point_id, from_t, to_t)
select p.id, d, d + interval '1 day'
from points p,
  lateral (select t from samples where point_id = p.id order by t limit 1) a,
  lateral (select t from samples where point_id = p.id order by t desc limit 1) b,
  lateral generate_series(date_bin('1 day', a.t, '2000-01-01Z'), b.t, interval '1 day') d;
