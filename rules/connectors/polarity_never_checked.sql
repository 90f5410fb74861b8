/*
title     = "Polarity not checked lately"
subject   = "item"
severity  = "limits"
why       = "Ready-made leads have arrived reversed, published drawings have been wrong, and plugs without gender mate though their shells are stacked the wrong way round."
not_met   = "{subject}: polarity was last checked on {polarity_checked}, {checked_days:.0f} days ago."
not_known = "{subject}: no date when the polarity of its plugs was checked."
fix       = "Check with a meter or polarity tester (about 5 to 20 USD): red left, black right, seen from the contact side, tongue down. Write the date in polarity_checked and ok or reversed in “polarity”; mark one that is reversed faulty until it is mended, so that nothing counts on it. A reversed lead can burn a radio or start a fire."
source    = "state auxiliary-communications DC connector standard; club note on wrong drawings"
applies_to = "DC leads, clip leads and adapters that work, and radios and sources of which it is told that their plug is one without gender, as these are joined straight"

[param.within_days]
value  = 730
unit   = "d"
why    = "leads get repaired and mixed up between seasons"
source = "common practice"
*/
select
    item_id                                             as subject,
    polarity_checked,
    date_diff('day', polarity_checked, $today)          as checked_days,
    date_diff('day', polarity_checked, $today) <= $within_days as ok
from item
where is_usable and role in ('lead', 'radio', 'source') and (kind in ('dc_lead', 'clip_lead', 'socket_lead', 'dc_adapter')
    or role <> 'lead' and not dc_plug_is_assumed and starts_with(dc_plug, 'genderless_'))
