/*
title     = "Poor match"
subject   = "item"
severity  = "limits"
why       = "A bad match makes the radio turn its power down, and often means water or a broken wire."
not_met   = "{subject}: its worst standing-wave ratio is {swr:.1f}:1; up to {most:.1f}:1 is in order."
not_known = "{subject}: its standing-wave ratio, or the day on which it was measured, is not written down."
fix       = "Measure it with a meter or analyser (about 40 to 350 USD, or the club's) at low power; look for water, loose ends and a wrong length, and keep hands off while transmitting. Write the ratio in “swr” and the day in swr_tested."
source    = "common practice; NCVEC T7C05: radios begin to turn their power down above 2:1"
applies_to = "antennas in use that stand apart from the radio"

[param.most]
value  = 2.0
unit   = "1"
why    = "above it most radios turn their power down"
source = "common practice"
*/
select
    item_id         as subject,
    swr, swr_tested,
    case when swr_tested is not null or swr > $most then swr <= $most end as ok
from item
where is_usable and role = 'antenna' and kind <> 'whip'
