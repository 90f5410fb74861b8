/*
title     = "No complete station"
subject   = "kit"
severity  = "blocks"
why       = "Power, radio, feed line and antenna must plug together in the field, with what is in the bag."
not_met   = "{subject}: the things in it do not make a complete station; missing: {missing_link}."
not_known = "{subject}: whether it makes a complete station hangs on plugs or values that are not written down, or on things that may not work; look for {missing_link}."
fix       = "Lay the station out on a table and connect it; write down what is there and not in the list, its plugs too; add what is missing (leads and adapters are about 5 to 40 USD, an antenna 25 to 90, a battery 20 to 450). Switch batteries off before joining leads."
source    = "common practice: complete path radio, feed line, antenna; equipment unit of an emergency-communications course"
applies_to = "kits that hold a radio, an antenna or a feed line, and those of which nothing is listed; a bag of other things, as a shelter or a generator, has nothing_for_the_air, and a post that has only such nobody_brings_a_station"
*/
select
    kit.kit_id                  as subject,
    coalesce(s.missing_link, 'a radio') as missing_link,
    s.stations_low, s.stations_high,
    case when s.stations_low >= 1 then true when coalesce(s.stations_high, 0) = 0 then false end as ok
from kit
left join station as s using (kit_id)
left join holding as h using (kit_id)
where coalesce(h.is_for_air, true)
