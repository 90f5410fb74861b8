/*
title     = "Old lead battery at a critical post"
subject   = "post_kit"
severity  = "limits"
why       = "A lead-acid battery gives less from its third year on, and fails at the first long transmission; net control cannot do without it."
not_met   = "{subject}: in {member}'s {kit} lead-acid of {flag_years:.0f} years or more, which is as long as it serves at a critical post: {old_items}; age of the oldest in years: {age_years:.1f}."
fix       = "Take a newer battery there (about 20 to 450 USD, or lithium iron 60 to 700) and write yes in “spare” on the line of the old one, or borrow the club's; at a post that is not critical it serves on. Bring it to a collection point when it has served."
source    = "backup-battery replacement guide: lead-acid in standby 3 to 5 years, 3 where it is critical"
applies_to = "kits with a lead-acid battery in use whose age is told, at critical posts; from the age on that its chemistry serves anywhere past_its_service_age speaks"
*/
select
    pk.post_kit_id                      as subject,
    string_agg(i.item, ', ' order by i.line) filter (b.age_years >= c.flag_years) as old_items,
    max(b.age_years)                    as age_years,
    min(c.flag_years)                   as flag_years,
    coalesce(list(i.line order by i.line) filter (b.age_years >= c.flag_years), list(i.line order by i.line)) as lines,
    bool_and(b.age_years < c.flag_years) as ok
from post as p
join post_kit as pk on pk.post_id = p.post_id
join battery as b on b.kit_id = pk.kit_id
join chemistry as c on c.chemistry = b.chemistry
join item as i on i.item_id = b.item_id
where p.is_critical and charged_as(b.chemistry) = 'lead' and not b.is_spare and b.age_years < c.life_years
group by pk.post_kit_id
