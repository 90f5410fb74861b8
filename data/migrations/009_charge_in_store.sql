-- The charge at which a battery or pack is kept between events.
alter table told_inventory add column stored_charge_pct double;
