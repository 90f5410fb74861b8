"""When each thing comes to its planned end, and what the next one costs."""

from __future__ import annotations

from datetime import date

import duckdb

from rules.facts.select import Select
from rules.policy import Policy


def replacement(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each item with a planning life: the year it ends, its age (a) and the cost of another (USD).

    The year is NULL where no date of purchase is told. The cost is what was paid, else the middle of the kind's usual
    prices, times the quantity.
    """
    rows = Select(
        """
        select item_id, kit_id, year(acquired + to_days(cast(round(life_years * 365.25) as integer))) as due_year,
            date_diff('day', acquired, $today) / 365.25 as age_years, life_years,
            coalesce(cost_usd, (price_low_usd + price_high_usd) / 2) * quantity as replace_usd,
            case when cost_usd is not null then 'told' when price_low_usd is not null then 'assumed' end as how
        from item where is_usable and life_years is not null
        """,
        {"today": today},
    )
    return {"replacement": rows}
