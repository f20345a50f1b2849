-- Waveforms as they came: instantaneous values of a voltage or a current, kept for a set time to be looked at. What is
-- concluded from them leans on the half-cycle RMS values among the samples, which stay.
-- t: of the first value; values: 32-bit floats, little-endian, as sent; volts or amperes are value × scale
create table waveforms (
  point_id int not null,
  t timestamptz not null,
  step_seconds float8 not null,
  scale float8 not null,
  values bytea not null,
  primary key (point_id, t)
);
