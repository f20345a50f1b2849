-- Samples by weeks. What there was before becomes one partition as it lies: nothing is copied and no index is built, the table is
-- read through once to prove its bound. The weeks after it get partitions of their own (db/partitions.ts). A hypertable
-- has its chunks and stays as it is.
do $$
declare
  is_hypertable boolean := false;
  newest timestamptz;
  bound timestamptz;
begin
  if exists (select from pg_extension where extname = 'timescaledb') then
    execute $q$ select exists (
      select from timescaledb_information.hypertables where hypertable_schema = 'public' and hypertable_name = 'samples'
    ) $q$ into is_hypertable;
  end if;
  if is_hypertable then
    return;
  end if;
  -- from point to point through the index, those of deleted sites among them
  with recursive point as (
    (select point_id from samples order by point_id limit 1)
    union all
    select (select s.point_id from samples s where s.point_id > point.point_id order by s.point_id limit 1)
    from point where point.point_id is not null
  )
  select max((select t from samples s where s.point_id = point.point_id order by t desc limit 1))
  into newest from point where point_id is not null;
  alter table samples rename to samples_before;
  alter table samples_before rename constraint samples_pkey to samples_before_pkey;
  create table samples (like samples_before) partition by range (t);
  alter table samples add primary key (point_id, t);
  if newest is null then
    drop table samples_before;
  else
    bound := date_bin('7 days', newest, '1970-01-01Z') + interval '7 days';
    execute format('alter table samples attach partition samples_before for values from (minvalue) to (%L)', bound);
  end if;
end $$;
