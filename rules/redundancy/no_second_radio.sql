/*
title    = "No second radio"
subject  = "kit"
severity = "limits"
why      = "One dropped or drowned radio silences the post until somebody drives there."
not_met  = "{subject}: radios that work: {radios}; a kit for a post carries {least}."
not_known = "{subject}: radios: {radios}, of which nobody knows whether {radios_untried} work; a kit for a post carries {least}."
fix      = "Add a handheld (about 30 to 350 USD), or borrow one from the club for the day."
source   = "common practice: two independent ways on the primary channel, recorded at trail-race aid stations"
applies_to = "kits that hold a radio, an antenna or a feed line, and those of which nothing is listed; the others have nothing_for_the_air"

[param.least]
value  = 2
unit   = "1"
why    = "one to use and one to fall back on"
source = "common practice"

[remedy]
kind = "handheld"
*/
select
    h.kit_id                        as subject,
    h.radios,
    coalesce(u.radios, 0)           as radios_untried,
    h.radio_lines                   as lines,
    case when h.radios - radios_untried >= $least then true when h.radios < $least then false end as ok
from holding as h
left join untried as u using (kit_id)
where h.is_for_air
