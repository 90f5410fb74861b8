/*
title     = "Only one way on the air"
subject   = "kit"
severity  = "limits"
why       = "Two stations that share no item survive the loss of any one of them."
not_met   = "{subject}: independent stations: {stations_high} at best; {least} are wanted, each with its own radio, antenna and power."
not_known = "{subject}: between {stations_low} and {stations_high} independent stations, depending on plugs or values not written down and on things that may not work."
fix       = "Pair a handheld with its own pack and an outside antenna beside the main station (about 75 to 490 USD together), or write down the missing plugs and whether each thing works."
source    = "common practice: two-radio, two-antenna aid stations of trail races; a net that went on after an antenna fault only with a second and third radio"
applies_to = "kits that make a complete station at best; the others have no_complete_station"

[param.least]
value  = 2
unit   = "1"
why    = "the loss of one thing must not silence the post"
source = "common practice"
*/
select
    kit_id               as subject,
    stations_low, stations_high,
    weak_lines           as lines,
    case when stations_low >= $least then true when stations_high < $least then false end as ok
from station
where stations_high >= 1
