-- A radio's low power and the posts that use it, agreed check-ins, the owner's mark on bags, exposure evaluations.
alter table told_inventory add column amps_tx_low double;
alter table told_inventory add column rf_watts_low double;
alter table told_kits add column labelled boolean;
alter table told_kits add column rf_evaluated date;
alter table told_posts add column power_setting varchar;
alter table told_posts add column check_in_min double;
