/*
title     = "Fuse larger than the wire allows"
subject   = "item"
severity  = "blocks"
why       = "The fuse is there for the wire: one too large lets the wire burn first."
not_met   = "{subject}: fused for {fuse_a:g} A; its lead (wire in mm²: {wire_mm2:.1f}) carries {ampacity_a:.0f} A."
not_known = "{subject}: its wire size or rating is not written down, or which of the kit's leads it sits in (amperes that the thinnest of these carries: {thin_a:.0f})."
fix       = "Fit a fuse no larger than what its wire carries (in amperes: {ampacity_a:.0f}), or heavier wire (about 15 to 40 USD); write the wire behind a fuse on the fuse's own line. Disconnect the battery first; check local rules."
source    = "NFPA 70 Table 310.16 (copper, 90 °C) and 240.4, below 14 AWG a chart of hook-up wire; club fuse article: load x 1.25 <= fuse <= ampacity"
applies_to = "fuses in use, clip leads, and DC leads that tell how far the fuse in them sits; one whose rating is not told has that of the fuses beside it, which are judged in its stead; an adapter that tells its wire may be the thinnest behind a fuse; a lead that tells no wire carries the rating that it tells, and without one for certain no more than the thinnest wire that its radio asks"

[param.allowance]
value  = 1.0
unit   = "1"
why    = "largest fuse as a share of the ampacity"
source = "NFPA 70 240.4"

[remedy]
kind = "item_kind"
*/
select
    f.item_id           as subject,
    f.fuse_a, f.ampacity_a, f.thin_a, f.wire_mm2, f.how,
    i.kind as item_kind,
    case when f.fuse_a <= f.thin_a * $allowance then true when f.fuse_a > f.ampacity_a * $allowance then false end as ok
from fuse as f
join item as i using (item_id)
where i.role in ('fuse', 'lead')
