"""When each thing comes to its end, and what the next one costs."""

from __future__ import annotations

from datetime import date

import duckdb

from rules.facts.select import Select
from rules.policy import Policy


def replacement(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each item that has a planning life or expires: when it is due, its age (a), and the price of another (USD).

    Due is the earlier of the end of the planning life and the day of expiry, NULL where neither is told. The price is
    what was paid, else the middle of the club's offers of the kind, else the planning price, else the middle of the
    kind's usual prices.
    """
    rows = Select(
        """
        with offered as (select kind, median(price_usd) as price_usd from offer group by kind),
        ending as (
            select item_id, kit_id, kind, quantity, cost_usd, life_years, (price_low_usd + price_high_usd) / 2 as middle_usd,
                least(cast(acquired + to_days(cast(round(life_years * 365.25) as integer)) as date), expires) as due,
                date_diff('day', acquired, $today) / 365.25 as age_years
            from item where condition <> 'removed' and (life_years is not null or expires is not null)
        )
        select item_id, kit_id, due, age_years, life_years,
            coalesce(cost_usd, offered.price_usd, price.price_usd, middle_usd) as price_usd,
            coalesce(cost_usd, offered.price_usd, price.price_usd, middle_usd) * quantity as replace_usd,
            case when cost_usd is not null then 'told' when offered.price_usd is not null then 'offer'
                 when coalesce(price.price_usd, middle_usd) is not null then 'estimate' end as price_from
        from ending left join offered using (kind) left join price using (kind)
        """,
        {"today": today},
    )
    return {"replacement": rows}
