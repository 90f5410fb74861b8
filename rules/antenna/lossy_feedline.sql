/*
title     = "Lossy feed line"
subject   = "item"
severity  = "limits"
why       = "At 3 dB half of the power warms the cable, and weak stations are lost as well."
not_met   = "{subject}: {length_m:.0f} m of {coax} loses {loss_db:.1f} dB on {band}; up to {most_db:.0f} dB is good practice."
not_known = "{subject}: its sort or length is not written down, so its loss is not known."
fix       = "Use a shorter line or a better one (low-loss 10 mm, 15 m, about 80 to 160 USD), or write down its sort and length."
source    = "common practice: half of the power, NCVEC G5B10; loss after the two-term model of open RF calculators"
applies_to = "coax that works"

[param.most_db]
value  = 3
unit   = "dB"
why    = "half of the power"
source = "common practice"

[remedy]
kind = "coax_low_loss"
*/
select
    item_id             as subject,
    f.coax, f.length_m, f.band, f.loss_db, f.rf_watts, f.swr, f.antenna_w, f.how,
    f.loss_db <= $most_db as ok
from feedline as f
