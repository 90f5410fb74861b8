/*
title     = "No alternate channel in the plan"
subject   = "event"
severity  = "limits"
why       = "When the repeater fails, everybody must already know where the net goes."
not_met   = "{subject}: the channel plan lacks: {missing_channels}."
not_known = "{subject}: no channel is written down."
fix       = "Write the channel of the net, another one for when it fails, and one without a repeater (channel, channel_alternate, channel_simplex; costs nothing); put them on the channel list."
source    = "bike-tour guides: first, alternate and simplex channels stand in the plan"
*/
with plan as (
    select event_id, nullif(trim(channel), '') as first_one, nullif(lower(trim(channel_alternate)), lower(trim(channel))) as other,
        nullif(lower(trim(channel_simplex)), lower(trim(channel))) as simplex
    from event
)
select
    event_id                    as subject,
    concat_ws(', ', case when first_one is null then 'first' end, case when other is null then 'alternate' end,
        case when simplex is null then 'simplex' end) as missing_channels,
    case when first_one is null and other is null and simplex is null then null else missing_channels = '' end as ok
from plan
