-- Every document of a site that was put, those included that others have since taken the place of: who changed what and
-- when, and what may be gone back to.

create table site_saves (
  id bigint generated always as identity primary key,
  site text not null references sites on delete cascade,
  revision bigint not null,
  from_at timestamptz not null,
  document jsonb not null,
  put_at timestamptz not null default now(),
  put_by text not null default ''
);
create index site_saves_by_site on site_saves (site, id);

insert into site_saves (site, revision, from_at, document, put_at, put_by)
select d.site, s.revision, d.from_at, d.document, d.put_at, d.put_by
from site_documents d join sites s on s.id = d.site order by d.put_at, d.from_at;
