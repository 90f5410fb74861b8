/*
title     = "No sturdy container"
subject   = "kit"
severity  = "advice"
why       = "A carrier bag tears on the way to the post, and what fell out of it or got wet is missed there."
not_met   = "{subject}: what it is kept in keeps off neither rain nor knocks."
not_known = "{subject}: what it is kept in is not written down."
fix       = "Pack it in a box with a lid, a padded case or a stout bag (about 15 to 80 USD), and write yes in “sturdy_container” of kits.csv."
source    = "a city emergency group's kit list: a durable container, not a plastic bag"
*/
select
    kit_id          as subject,
    is_sturdy       as ok
from kit
