-- Of work: a contact has changed, so it goes before values that were measured. Few items are, so looking for them costs little
-- however many wait.
alter table work_items add column urgent boolean not null default false;
create index work_items_urgent on work_items (id) where urgent;
