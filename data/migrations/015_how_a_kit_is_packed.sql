-- What a kit is kept in, and whether its handhelds may switch on in it.
alter table told_kits add column sturdy_container boolean;
alter table told_kits add column locked_off boolean;
