/*
title     = "Strong handheld at the face"
subject   = "kit"
severity  = "advice"
why       = "Above about 5 W a handheld held at the face can pass the limit for its own operator."
not_met   = "{subject}: a handheld of {rf_watts:.0f} W and no speaker microphone or headset to keep it off the face."
not_known = "{subject}: the power of a handheld, or whether a speaker microphone or headset works that is listed, is not written down."
fix       = "Use a speaker microphone (about 15 to 80 USD) with the radio on the belt or pack, or low power."
source    = "a published emergency-use exposure note: 5 W handhelds acceptable, more at the face over the limit"
applies_to = "kits with a handheld that works"

[param.most_w]
value  = 5
unit   = "W"
why    = "what a published note finds acceptable at the face"
source = "a published emergency-use exposure note"

[remedy]
kind = "speaker_mic"
*/
with kept_off as (
    select kit_id, any_works(condition) as is_sure from item where is_usable and kind in ('speaker_mic', 'headset') group by kit_id
)
select
    i.kit_id                            as subject,
    max(i.rf_watts)                     as rf_watts,
    case when bool_or(i.rf_watts_is_assumed) then 'assumed' else 'told' end as how,
    list(i.line order by i.line)        as lines,
    case when bool_or(k.is_sure) then true when max(i.rf_watts) > $most_w and count(k.kit_id) = 0 then false
         when max(i.rf_watts) <= $most_w and count(*) = count(i.rf_watts) then true end as ok
from item as i
left join kept_off as k using (kit_id)
where i.kind = 'handheld' and i.is_usable
group by i.kit_id
