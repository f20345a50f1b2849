-- The morning digest: when each person wants it, and which day's was made.

create table digest_settings (
  person uuid primary key references people on delete cascade,
  is_on boolean not null,
  -- minutes after midnight on the wall of the zone
  at_minutes int not null check (at_minutes between 0 and 1439),
  zone text not null check (char_length(zone) between 1 and 64),
  -- the day on which it comes also when all is quiet, 1 to 7 from Monday
  weekday int not null check (weekday between 1 and 7)
);

-- one a person and day, written with its messages: whoever writes it sends it, and nobody else
create table digests (
  person uuid not null references people on delete cascade,
  day date not null,
  -- nothing: there was nothing to say, or it was too late to say it
  kind text not null check (kind in ('daily', 'weekly', 'nothing')),
  made_at timestamptz not null,
  primary key (person, day)
);
