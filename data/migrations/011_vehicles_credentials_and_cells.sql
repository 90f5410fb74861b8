-- Vehicles that stay with a post.
alter table told_posts add column vehicle boolean;
