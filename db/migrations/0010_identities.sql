-- People as a provider of identities (OpenID Connect) knows them: by issuer and subject together, never by an address, which
-- may be given to somebody else there.
create table identities (
  issuer text not null check (char_length(issuer) between 1 and 500),
  subject text not null check (char_length(subject) between 1 and 255),
  person uuid not null references people on delete cascade,
  created_at timestamptz not null,
  primary key (issuer, subject),
  unique (person, issuer)
);
