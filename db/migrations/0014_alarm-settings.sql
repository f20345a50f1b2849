-- What was set of a site's alarm rules, by whom and when: rows are only ever added, the newest is what holds.
create table alarm_settings_changes (
  id bigint generated always as identity primary key,
  site text not null references sites on delete cascade,
  at timestamptz not null,
  by text not null,
  rules jsonb not null
);
create index alarm_settings_changes_by_site on alarm_settings_changes (site, id desc);
