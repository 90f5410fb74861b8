"""What wears out within some years, and what it costs to replace."""

from __future__ import annotations

import numpy as np
import pandas as pd

from data import reference
from rules.engine import Assessment


def replacements(assessment: Assessment, offers: pd.DataFrame | None = None, years: int = 3) -> pd.DataFrame:
    """What reaches the end of its life within some years, and what nobody knows the age of.

    The price is what the owner wrote (cost_usd), else the middle of the club's offers of the kind, else the planning
    price, else the middle of the kind's range. Things past their life fall due in the first year.

    Returns
    -------
    DataFrame
        member, kit, item, kind, quantity, due (date; NaT where no date of purchase is told), year (NULL there),
        price_usd, cost_usd, price_from (told, offer, estimate), owner; ordered by due, what is not known last.
    """
    item = assessment.con.cursor().execute(
        "select kit.member, kit.kit, i.item, i.kind, i.quantity, i.acquired, i.expires, i.life_years, i.cost_usd as told_usd, "
        "(i.price_low_usd + i.price_high_usd) / 2 as middle_usd, coalesce(i.owner, 'member') as owner "
        "from item as i join kit using (kit_id) where i.condition <> 'removed' and (i.life_years is not null or i.expires is not null)"
    ).df()  # fmt: skip
    life = pd.to_timedelta(item["life_years"] * 365.25, unit="D")
    item["due"] = pd.to_datetime(item["acquired"]) + life
    item["due"] = item[["due", "expires"]].apply(pd.to_datetime).min(axis=1).dt.normalize()
    planning = reference.table("prices").set_index("kind")["price_usd"]
    offered = pd.Series(dtype=float) if offers is None else offers.groupby("kind")["price_usd"].median()
    sources = {
        "told": item["told_usd"],
        "offer": item["kind"].map(offered),
        "estimate": item["kind"].map(planning),
    }
    price = pd.Series(np.nan, index=item.index)
    where = pd.Series("estimate", index=item.index)
    for name, values in sources.items():
        where = where.mask(price.isna() & values.notna(), name)
        price = price.fillna(values.astype(float))
    item["price_usd"] = price.fillna(item["middle_usd"])
    item["price_from"] = where
    item["cost_usd"] = item["price_usd"] * item["quantity"]
    today = pd.Timestamp(assessment.today)
    item["year"] = (
        item["due"].where(item["due"].isna() | (item["due"] >= today), today).dt.year.astype("Int64")
    )
    kept = item[item["due"].isna() | (item["due"] <= today + pd.DateOffset(years=years))]
    names = [
        "member", "kit", "item", "kind", "quantity", "due", "year", "price_usd", "cost_usd", "price_from", "owner",
    ]  # fmt: skip
    return kept.sort_values(["due", "member", "kit", "item"], na_position="last")[names].reset_index(
        drop=True
    )
