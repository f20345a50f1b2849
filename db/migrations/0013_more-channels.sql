-- Web push and voice beside the channels there were (handbook 7).
alter table channels drop constraint channels_kind_check;
alter table channels add constraint channels_kind_check
  check (kind in ('e-mail', 'webhook', 'short-message', 'web-push', 'voice'));
-- of a device: what its person knows it by
alter table channels add column label text check (char_length(label) between 1 and 100);
comment on column channels.secret is 'of a webhook: what signs its messages; of a device: its public key and its secret';

-- shows push services who sends (RFC 8292); made at the first start. Devices are subscribed to it: another key is none of theirs
create table push_keys (
  only_row boolean primary key default true check (only_row),
  private_key bytea not null check (octet_length(private_key) = 32)
);
