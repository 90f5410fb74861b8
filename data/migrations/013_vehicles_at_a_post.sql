-- How many vehicles stay with a post: each has a socket that a kit can draw from.
alter table told_posts add column vehicles integer;
