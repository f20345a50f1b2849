-- What gateways show themselves by at the broker. A site's go with it.
create table gateway_credentials (
  id uuid primary key default gen_random_uuid(),
  site text not null references sites on delete cascade,
  gateway text not null,
  kind text not null check (kind in ('password', 'certificate')),
  -- the user of a password; of a certificate the common name of its subject, which brokers take for the user
  username text not null unique check (char_length(username) between 1 and 128),
  -- of a password: PBKDF2-SHA512 in the form that Mosquitto reads. Passwords are made here, of 160 random bits.
  secret text,
  -- of a certificate: SHA-256 of its DER, which is what is compared, and the certificate itself (no key ever comes here)
  fingerprint bytea unique check (octet_length(fingerprint) = 32),
  certificate text check (char_length(certificate) <= 16384),
  made_at timestamptz not null,
  made_by text not null,
  -- the end of a certificate, or of what gives way to a newer one; null: none
  ends_at timestamptz,
  revoked_at timestamptz,
  used_at timestamptz,
  used_from text,
  check ((kind = 'password') = (secret is not null)),
  check ((kind = 'certificate') = (fingerprint is not null and certificate is not null))
);
create index on gateway_credentials (site, gateway);

-- Whom the broker turned away, and why: one row for each reason, user and address.
create table gateway_refusals (
  why text not null,
  username text not null check (char_length(username) <= 128),
  address text not null check (char_length(address) <= 64),
  -- of the last one
  client text not null check (char_length(client) <= 128),
  detail text not null check (char_length(detail) <= 300),
  first_at timestamptz not null,
  last_at timestamptz not null,
  times bigint not null,
  primary key (why, username, address)
);
create index on gateway_refusals (last_at);
