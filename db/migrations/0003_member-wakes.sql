-- The lives of a subject's gateways that its last fold knew, as one number (their sum in ms): a member whose panel or space
-- waits for it is folded again when they have moved, though nothing of its own has changed.
alter table subject_states add column folded_lives bigint not null default 0;
create index point_subjects_by_subject on point_subjects (subject_id);
