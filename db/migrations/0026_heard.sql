-- What is talking and isn't mapped: what to listen to besides the points' own topics, until when; and what was heard there.

-- one row at most: an end makes it over by itself
create table topics_listened (
  only_row boolean primary key default true check (only_row),
  filters text[] not null check (cardinality(filters) between 1 and 10),
  until_at timestamptz not null,
  asked_by text not null,
  asked_at timestamptz not null
);

-- values that no point maps, by topic and place in the message; bounded by whoever writes
create table heard_topics (
  topic text not null,
  pointer text not null,
  -- as shared/wiring/heard.ts has it
  body jsonb not null,
  last_at timestamptz not null,
  -- somebody has said that it is of no use
  ignored_at timestamptz,
  ignored_by text,
  primary key (topic, pointer)
);
create index heard_topics_by_time on heard_topics (last_at);
