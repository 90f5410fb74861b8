/*
title     = "Nothing for the air"
subject   = "kit"
severity  = "advice"
why       = "A bag of other things, as a shelter or a generator, needs no radio; a radio that nobody wrote down looks like one."
not_met   = "{subject}: no radio, antenna or feed line is listed, so it is judged as a bag of other things."
fix       = "If it has a radio, write it in the list with its antenna and battery; if it has none, leave it (costs nothing)."
source    = "common practice"
*/
select kit_id as subject, is_for_air as ok
from holding
