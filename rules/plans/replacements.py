"""What wears out within some years, and what it costs to replace."""

from __future__ import annotations

import pandas as pd

from rules.engine import Assessment

DUE = """
    select kit.member, kit.kit, i.item, i.kind, i.quantity, r.due,
        case when r.due is not null then year(greatest(r.due, $today)) end as year,
        r.price_usd, r.replace_usd as cost_usd, r.price_from, coalesce(i.owner, 'member') as owner
    from replacement as r join item as i using (item_id) join kit on kit.kit_id = r.kit_id
    where r.due is null or r.due <= $today + to_years($years)
    order by r.due nulls last, kit.member, kit.kit, i.item
"""


def replacements(assessment: Assessment, years: int = 3) -> pd.DataFrame:
    """What reaches its end within some years, and what nobody knows the age of, as the fact replacement tells it.

    Things past their end fall due in the first year.

    Returns
    -------
    DataFrame
        member, kit, item, kind, quantity, due (date; NaT where no date of purchase is told), year (NULL there),
        price_usd, cost_usd, price_from (told, offer, estimate), owner; ordered by due, what is not known last.
    """
    values = {"today": assessment.today, "years": years}
    return assessment.con.cursor().execute(DUE, values).df().astype({"year": "Int64"})
