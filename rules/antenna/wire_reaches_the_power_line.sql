/*
title     = "Wire or vertical antenna reaches the power line"
subject   = "post_kit"
severity  = "blocks"
why       = "A wire that is thrown over a line or blown onto one, or a vertical that tips onto it, kills whoever holds the other end."
not_met   = "{subject}: the power line is {power_line_m:.1f} m away; {member}'s {kit} holds a wire or vertical antenna of {wire_m:.0f} m, which wants {clear_m:.1f} m."
not_known = "{subject}: {member}'s {kit} holds a wire or vertical antenna of {wire_m:.0f} m; how far the nearest power line is (power_line_m, {clear_m:.1f} m or more is wanted), is not written down."
told_by   = "coordinator"
fix       = "Put it up further away, take a shorter one, or leave it in its bag and mark it a spare (costs nothing); write its length in length_m where it is another, and have the coordinator write the distance in power_line_m. Look up before you throw a line or raise anything, and never over or under a power line; ask a qualified person and check local rules."
source    = "NCVEC T0B06: no part may come within 10 ft of a power line if it falls; its whole length, as it may fall or blow any way"
applies_to = "kits with a wire antenna or an HF vertical in use for a band that the post names, or for any where it names none"
caution   = "Coax and throw lines reach as far as they are long: keep them clear, too."

[param.margin_m]
value  = 3.048
unit   = "m"
why    = "no part may come within 10 ft of a power line"
source = "NCVEC T0B06"

[param.half_wave]
value  = 150
unit   = "m·MHz"
why    = "a wire that does not tell its length (length_m) is taken as long as half a wave in free space on its lowest band; it is cut some 5 % shorter"
source = "half the speed of light"

[param.vertical_m]
value  = 7
unit   = "m"
why    = "a vertical that does not tell its length (length_m) is taken as long as a whip of 17 ft on a coil and a stand"
source = "common practice: portable HF verticals of 2 to 7 m"
*/
with wire as (
    select i.kit_id, i.bands, i.line, coalesce(i.length_m, case when i.kind = 'hf_vertical' then $vertical_m else $half_wave / min(b.low_mhz) end) as wire_m
    from (from item where kind in ('dipole', 'end_fed_wire', 'hf_vertical') and is_usable and not is_spare) as i
    left join band as b on list_contains(string_split(i.bands, ' '), b.band)
    group by i.item_id, i.kit_id, i.kind, i.bands, i.line, i.length_m
)
select
    pk.post_kit_id                                      as subject,
    p.power_line_m,
    max(w.wire_m)                                       as wire_m,
    max(w.wire_m) + $margin_m                           as clear_m,
    list(w.line order by w.line)                        as lines,
    p.power_line_m >= max(w.wire_m) + $margin_m         as ok
from wire as w
join post_kit as pk using (kit_id)
join post as p using (post_id)
where coalesce(list_has_any(string_split(p.bands, ' '), string_split(w.bands, ' ')), true)
group by pk.post_kit_id, p.power_line_m
