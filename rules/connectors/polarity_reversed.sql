/*
title      = "Polarity found reversed"
subject    = "item"
severity   = "blocks"
why        = "Reversed power burns a radio before its fuse blows."
not_met    = "{subject}: its polarity was found reversed (last check: {polarity_checked})."
fix        = "Leave it unplugged, and mark it faulty until it is mended (3 to 8 USD in parts): red left, black right, seen from the contact side, tongue down. Check it again with a meter, and write ok in polarity and the day in polarity_checked."
source     = "state auxiliary-communications DC connector standard; club notes: ready-made leads have arrived reversed"
caution    = "A reversed lead can burn a radio or start a fire. Disconnect the battery before you open a plug."
applies_to = "things that work whose polarity is told; whether leads were checked at all is polarity_never_checked"
*/
select
    item_id                     as subject,
    polarity_checked,
    polarity <> 'reversed'      as ok
from item
where polarity is not null and is_usable
