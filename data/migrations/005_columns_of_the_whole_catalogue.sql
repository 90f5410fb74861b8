-- What the rules on storage, packs, plant, counts, identity cards, channels, rotation and travel ask for.
alter table told_inventory add column pack_family varchar;
alter table told_inventory add column serviced date;
alter table told_inventory add column counted date;
alter table told_members add column id_expires date;
alter table told_kits add column stored_min_c double;
alter table told_kits add column stored_max_c double;
alter table told_events add column channel varchar;
alter table told_events add column channel_alternate varchar;
alter table told_events add column channel_simplex varchar;
alter table told_events add column id_asked boolean;
alter table told_events add column training_asked varchar;
alter table told_posts add column rotation_h double;
alter table told_assignments add column travel_h double;
