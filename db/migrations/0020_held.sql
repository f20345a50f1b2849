-- Does something hold back what a subject is known through? Where nothing does, folding it again at a later time tells more
-- to those who wait for it.
alter table subject_states add column held boolean not null default true;
-- Through when each member was known when a panel was last folded; null: none of its events waits for a member by itself.
alter table subject_states add column folded_known jsonb;
