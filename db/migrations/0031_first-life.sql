-- A subject that was folded before anything was heard of its gateway (nothing taken, no life known) waits for the first life.
drop index subject_states_outlived;
create index subject_states_outlived on subject_states (subject_id)
  where through > folded_least_life or folded_least_life = '-infinity';
