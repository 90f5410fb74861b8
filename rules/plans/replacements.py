"""What wears out within some years, and what it costs to replace."""

from __future__ import annotations

import pandas as pd

from rules.engine import Assessment

DUE = """
    with first as (
        select *, $today + to_years($years) as until, greatest(due, $today) as year_of
        from replacement where due is null or due <= $today + to_years($years)
    ), turn as (   -- what is replaced wears out again
        select *, unnest(case when due is null or life_days is null then [0]
            else range(0, cast(floor(date_diff('day', year_of, cast(until as date)) / life_days) as bigint) + 1) end) as times
        from first
    )
    select kit.member, kit.kit, i.item, i.kind, i.quantity,
        case when times = 0 then r.due else year_of + cast(times * r.life_days as integer) end as due,
        year(case when due is not null then year_of end + cast(times * coalesce(r.life_days, 0) as integer)) as year,
        r.price_usd, r.replace_usd as cost_usd, r.price_from, coalesce(i.owner, 'member') as owner,
        case when r.price_from = 'estimate' then least(r.replace_usd, k.price_low_usd * i.quantity) else r.replace_usd end as low_usd,
        case when r.price_from = 'estimate' then greatest(r.replace_usd, k.price_high_usd * i.quantity)
            else r.replace_usd end as high_usd
    from turn as r join item as i using (item_id) join kit on kit.kit_id = r.kit_id left join kind as k on k.kind = i.kind
    order by due nulls last, kit.member, kit.kit, i.item
"""


def replacements(assessment: Assessment, years: int = 3) -> pd.DataFrame:
    """What reaches its end within some years, and what nobody knows the age of, as the fact replacement tells it.

    Things past their end fall due in the first year; what is replaced falls due again after the life of its kind.

    Returns
    -------
    DataFrame
        member, kit, item, kind, quantity, due (date; NaT where no date of purchase is told), year (NULL there),
        price_usd, cost_usd, price_from (told, offer, estimate), owner, low_usd and high_usd (cost_usd, but where that is
        an estimate the usual range of the kind); ordered by due, what is not known last.
    """
    values = {"today": assessment.today, "years": years}
    return assessment.frame(DUE, values).astype({"year": "Int64"})
