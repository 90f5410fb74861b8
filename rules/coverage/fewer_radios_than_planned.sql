/*
title     = "Fewer radios than planned"
subject   = "post"
severity  = "limits"
why       = "Who works two nets on one radio misses a call on each of them. How many nets there are the organiser knows; the number is what is usual at such a post, so it stops nobody."
not_met   = "{subject}: radios planned: {radios_planned}; radios on its bands at the thinnest hour, each with an antenna and at net control with its power: {radios_high}."
not_known = "{subject}: radios planned: {radios_planned}; radios on its bands at the thinnest hour, each with an antenna and at net control with its power: {radios_low} to {radios_high}, as bands, plugs or watts of some are not written down, or they may not work."
fix       = "Send a second kit, or add a radio with an antenna of its own for each net (a handheld is about 30 to 350 USD, a mobile 180 to 600, a J-pole 25 to 60). Set up the antennas as far apart as the coax reaches: close together one net deafens the other."
source    = "emergency-communications course and net-control training slides: a radio for each net; antennas apart; trail-race plans: two radios at remote posts"
applies_to = "posts of a type with more than one radio that somebody is sent to; the others have nobody_brings_a_station"

[remedy]
kind = "mobile_vhf_uhf"
*/
select
    post_id                     as subject,
    p.radios                    as radios_planned,
    c.radios_low, c.radios_high,
    case when c.radios_low >= p.radios then true when c.radios_high < p.radios then false end as ok
from post as p
join coverage as c using (post_id)
where p.radios > 1 and c.people > 0
