/*
title     = "Fewer radios than planned"
subject   = "post"
severity  = "limits"
why       = "Who works two nets on one radio misses a call on each of them. How many nets there are the organiser knows; the number is what is usual at such a post, so it stops nobody."
not_met   = "{subject}: radios planned: {radios_planned}; radios on its bands at the thinnest hour: {radios_high}."
not_known = "{subject}: radios planned: {radios_planned}; radios on its bands at the thinnest hour: {radios_low} to {radios_high}, as the bands of some are not written down."
fix       = "Send a second kit, or add a radio for each net (a handheld is about 30 to 350 USD, a mobile 180 to 600), with the antennas well apart."
source    = "emergency-communications course and net-control training slides: a radio for each net; trail-race plans: two radios at remote posts"
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
