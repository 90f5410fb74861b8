-- Where posts stand, vehicles that stay with them, what follows a missed check-in and other ways to call for help;
-- credentials with a last day, and who asks for them; when an event's action starts and what tells of a storm; sizes of
-- cells, polarity as found, channels in radios.
alter table told_posts add column site varchar;
alter table told_posts add column vehicle boolean;
alter table told_posts add column missed_check_in varchar;
alter table told_posts add column alert_path varchar;
alter table told_members add column vetting_expires date;
alter table told_members add column waiver_expires date;
alter table told_members add column training_expires date;
alter table told_events add column storm_watch varchar;
alter table told_events add column action_starts timestamp;
alter table told_events add column packets_sent date;
alter table told_events add column vetting_asked boolean;
alter table told_events add column waiver_asked boolean;
alter table told_inventory add column cell_size varchar;
alter table told_inventory add column polarity varchar;
alter table told_inventory add column programmed date;
alter table told_inventory add column set_by_hand boolean;
alter table told_offers add column cell_size varchar;
