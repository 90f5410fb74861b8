-- Where people at a post go in a storm: that of the event is far from a hill.
alter table told_posts add column shelter varchar;
