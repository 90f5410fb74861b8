-- Which version a restored backup brought back, so that the record of what came in between can stay.
alter table change add column back_to integer;
