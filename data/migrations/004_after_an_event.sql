-- what a kit did at an event: where, what was left in its batteries, what failed
alter table told_rehearsals add column event varchar;
alter table told_rehearsals add column post varchar;
alter table told_rehearsals add column battery_left_pct double;
alter table told_rehearsals add column faulty varchar;
