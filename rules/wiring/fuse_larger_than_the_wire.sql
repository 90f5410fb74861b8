/*
title     = "Fuse larger than the wire allows"
subject   = "item"
severity  = "blocks"
why       = "The fuse is there for the wire: one too large lets the wire burn first."
not_met   = "{subject}: fused or rated {fuse_a:.0f} A on {wire_mm2:.1f} mm² wire, which carries {ampacity_a:.0f} A."
not_known = "{subject}: its wire size or fuse is not written down."
fix       = "Fit a fuse of at most {ampacity_a:.0f} A, or heavier wire (about 15 to 40 USD). Disconnect the battery first; check local rules."
source    = "NFPA 70 Table 310.16 (copper, 90 C) and 240.4; club fuse article: load x 1.25 <= fuse <= ampacity"
applies_to = "DC leads and clip leads that work"

[param.allowance]
value  = 1.0
unit   = "1"
why    = "largest fuse as a share of the ampacity"
source = "NFPA 70 240.4"

[remedy]
kind = "item_kind"
*/
select
    l.item_id           as subject,
    l.fuse_a, l.ampacity_a, l.wire_mm2, l.how,
    i.kind as item_kind,
    l.fuse_a <= l.ampacity_a * $allowance as ok
from lead as l
join item as i using (item_id)
where i.kind in ('dc_lead', 'clip_lead')
