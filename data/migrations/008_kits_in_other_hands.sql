-- Kits that are lent whole for an event, and rows that say whose kit somebody brings.
alter table told_assignments add column kit_owner varchar;
alter table told_kits add column may_be_lent boolean;
