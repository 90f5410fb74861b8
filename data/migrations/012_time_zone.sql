-- Whose clocks an event goes by, so that its hours are right where they change.
alter table told_events add column time_zone varchar;
