-- Monthly reports by e-mail: who wants them, and which month's was made.

alter table digest_settings add column is_monthly boolean not null default false;

-- one a person and month, written with its messages: whoever writes it sends it, and nobody else
create table reports (
  person uuid not null references people on delete cascade,
  -- as 2026-10
  month text not null check (month ~ '^\d{4}-\d{2}$'),
  made_at timestamptz not null,
  primary key (person, month)
);
