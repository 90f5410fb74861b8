/*
title     = "Lossy feed line"
subject   = "item"
severity  = "limits"
why       = "At 3 dB half of the power warms the cable, and weak stations are lost as well."
not_met   = "{subject}: {length_m:.0f} m of {coax} loses {loss_db:.1f} dB on {band} {joined}; up to {most_db:.0f} dB is good practice."
not_known = "{subject}: its sort or length is not written down, so its loss is not known."
fix       = "Use a shorter line or a better one (low-loss 10 mm, 15 m, about 80 to 160 USD), or write down its sort and length."
source    = "common practice: half of the power, NCVEC G5B10; loss after the two-term model of open RF calculators"
applies_to = "coax that works, but for spare ones that the station does without; a pigtail counts with the line that it is joined to, connectors do not"

[param.most_db]
value  = 3
unit   = "dB"
why    = "half of the power"
source = "common practice"

[remedy]
kind = "coax_low_loss"
*/
-- what the lines on the way lose together is said of the one that loses most, unless one loses too much by itself
with way as (
    select arg_min(item_id, (-loss_db, item_id)) filter (not is_adapter) as item_id, sum(loss_db) as loss_db, sum(length_m) as length_m,
        string_agg(distinct coax, ' and ' order by coax) as coax
    from feedline where is_on_way group by kit_id
    having count(*) > 1 and max(loss_db) <= $most_db and sum(loss_db) > $most_db
)
select
    f.item_id                       as subject,
    coalesce(w.coax, f.coax)        as coax,
    coalesce(w.length_m, f.length_m) as length_m,
    f.band,
    coalesce(w.loss_db, f.loss_db)  as loss_db,
    case when w.item_id is null then 'by itself' else 'with what it is joined to' end as joined,
    f.rf_watts, f.swr, f.antenna_w, f.how,
    coalesce(w.loss_db, f.loss_db) <= $most_db as ok
from feedline as f left join way as w on w.item_id = f.item_id
where not f.is_adapter
