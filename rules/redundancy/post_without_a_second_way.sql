/*
title     = "Post without a second way on the air"
subject   = "post"
severity  = "blocks"
why       = "At net control, medical, start and finish, relay and remote posts, and where aid is far from a road, silence can cost somebody's health."
not_met   = "{subject}: stations on its bands at the thinnest hour: {stations_high}; of these last for all of their time there: {ways_high}; {least} are wanted, each with its own radio, antenna and power."
not_known = "{subject}: stations on its bands at the thinnest hour: {stations_low} to {stations_high}; of these last for all of their time there: {ways_low} to {ways_high}. Plugs, bands or figures of batteries are not written down, hours rest on usual values, or nobody knows whether a thing works."
fix       = "Send a second complete kit (a handheld with its own pack and an outside antenna, about 75 to 490 USD), borrow one from the club, or give one that ends too early another battery (a handheld pack is about 20 to 80 USD, a 20 Ah LiFePO4 battery 90 to 260)."
source    = "recorded practice of trail races: two radios, two antennas and a second operator's station as standby; a net that went on after an antenna fault only with a second and third radio"
applies_to = "posts of a type that needs two ways, and aid stations that are carried to, or walked to where no cell phone works for certain, that somebody is sent to; a post without anyone has hours_without_anyone; stations of one kit count as far as its batteries carry them all at once"

[param.least]
value  = 2
unit   = "1"
why    = "the loss of one thing must not silence the post"
source = "common practice"

[remedy]
kind = "handheld_pack"
*/
select
    post_id                 as subject,
    c.stations_low, c.stations_high, c.ways_low, c.ways_high,
    case when c.ways_low >= $least then true when c.ways_high < $least then false end as ok
from post
join coverage as c using (post_id)
where post.needs_two_ways and c.people > 0
