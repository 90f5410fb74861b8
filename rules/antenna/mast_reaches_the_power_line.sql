/*
title     = "Mast reaches the power line"
subject   = "post"
severity  = "blocks"
why       = "A mast or antenna that falls on a power line kills."
not_met   = "{subject}: the power line is {power_line_m:.1f} m away; a mast of {mast_m:.1f} m with its antenna wants {clear_m:.1f} m."
not_known = "{subject}: a mast is planned or brought (height in m: {mast_m:.1f}); how high it goes up (mast_m, 0 for not at all), or how far the nearest power line is (power_line_m), is not written down."
told_by   = "coordinator"
fix       = "Move the mast, shorten it or do without (costs nothing); write the distance in power_line_m. Look up before you raise anything, and keep twice the height clear where you can; ask a qualified person and check local rules."
source    = "NCVEC T0B06: no part may come within 10 ft of a power line if it falls"
applies_to = "posts that plan a mast, or tell nothing of one while a kit that is sent there holds one"
caution   = "Never raise a mast near a power line of which you do not know the voltage; ask the utility."
*/
select
    p.post_id                           as subject,
    p.mast_m, p.power_line_m, f.clear_m,
    p.power_line_m >= f.clear_m         as ok
from post as p
left join fall_zone as f using (post_id)
where f.post_id is not null or p.mast_m is null and exists (
    from assignment as a join holding as h using (kit_id) where a.post_id = p.post_id and h.has_mast)
