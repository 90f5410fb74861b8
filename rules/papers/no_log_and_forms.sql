/*
title      = "Too few forms or pens"
subject    = "kit"
severity   = "limits"
why        = "What is not written down is argued about afterwards; a pen ends more shifts than a battery."
not_met    = "{subject}: too little to write with: {missing_papers}. A clipboard listed counts for all that is not listed beside it."
not_known  = "{subject}: whether the clipboard, pens and forms that are listed are all there and can be used is not written down."
fix        = "Pack a clipboard with {forms} blank log forms, {forms} blank message forms and {pens} pens (about 10 to 30 USD), and list what you count as log_forms, message_forms and pens."
source     = "county member checklists: ten blank forms of each kind, two writing tools; deployment kit list of a city group"
applies_to = "kits with a radio; a box of spares needs no papers, nor does one of the club's that nobody is sent with"

[param.pens]
value  = 2
unit   = "1"
why    = "the first one runs dry or walks off"
source = "county member checklists"

[param.forms]
value  = 10
unit   = "1"
why    = "blanks of each kind that last a shift and its messages"
source = "a county member checklist: ten blanks of each"

[remedy]
kind = "clipboard"
*/
with paper as (   -- what works for certain (is_sure), and with it what may
    select kit_id, is_sure, bool_or(kind = 'clipboard') as has_clipboard, sum(quantity) filter (kind = 'pens') as pens,
        sum(quantity) filter (kind = 'log_forms') as logs, sum(quantity) filter (kind = 'message_forms') as messages
    from (
        select kit_id, kind, quantity, unnest(if(condition = 'ok', [true, false], [false])) as is_sure
        from item where is_usable and kind in ('clipboard', 'pens', 'log_forms', 'message_forms')
    ) group by kit_id, is_sure
), short as (
    select kit_id, is_sure, concat_ws(', ',
        case when coalesce(pens, case when has_clipboard then $pens end, 0) < $pens then coalesce(pens,
            0) || ' of ' || $pens || ' pens' end,
        case when coalesce(logs, case when has_clipboard then $forms end, 0) < $forms then coalesce(logs,
            0) || ' of ' || $forms || ' log forms' end,
        case when coalesce(messages, case when has_clipboard then $forms end, 0) < $forms then coalesce(messages,
            0) || ' of ' || $forms || ' message forms' end)
        as missing_papers
    from paper
)
select
    h.kit_id                                                    as subject,
    coalesce(s.missing_papers, 'no clipboard, pens or forms')   as missing_papers,
    case when s.missing_papers = '' and t.missing_papers = '' then true
         when coalesce(s.missing_papers <> '', true) and coalesce(t.missing_papers <> '', true) then false end as ok
from holding as h
left join short as s on s.kit_id = h.kit_id and not s.is_sure
left join short as t on t.kit_id = h.kit_id and t.is_sure
where h.radios > 0 and h.kit_id not in (from pool_kit)
