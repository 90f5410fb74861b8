"""Complete stations of every kit, from one flow over the whole club."""

from __future__ import annotations

from datetime import date

import duckdb
import pandas as pd
import pyarrow as pa

from rules.facts.station_flow import stations
from rules.facts.station_graph import ROLES
from rules.policy import Policy

WORDS = {
    "source": "a charged battery or supply that fits the radio",
    "dc_path": "a power lead that joins battery and radio",
    "radio": "a radio",
    "antenna": "an antenna for the radio's bands",
    "rf_path": "coax or an adapter that joins radio and antenna",
}


def station(
    con: duckdb.DuckDBPyConnection, policy: Policy, today: date
) -> dict[str, pd.DataFrame | pa.Table]:
    """Independent stations per kit as a range, the missing link, and the items that every station hangs on.

    A battery left for twice its charge interval counts as empty; one without a charge date as charged before use.
    """
    items = con.sql(
        """
        select item.kit_id, item_id, role, kind, quantity, is_usable, dc_plug, dc_plug_far, rf_plug, rf_plug_far,
            volts_min, volts_max, amps_tx, amps_rated, bands, capacity_ah,
            coalesce(b.charged_days <= 2 * b.charge_limit_days, true) as is_charged
        from item left join battery as b using (item_id)
        where is_usable and list_contains($roles, role)
        """,
        params={"roles": list(ROLES)},
    ).to_arrow_table()
    kits = con.sql("select distinct kit_id from item order by kit_id").to_arrow_table()
    mating = con.execute(
        """
        select plug_a, plug_b from mating where mates
        union select plug_b, plug_a from mating where mates
        """
    ).df()
    flow = stations(items.to_pandas(strings_to_categorical=True), mating, kit_ids=kits["kit_id"].to_numpy())
    con.register(
        "flow_kit",
        flow.per_kit.assign(
            missing_link=flow.per_kit["missing_link"].map(lambda link: WORDS.get(link, link))
        ),
    )
    con.register("flow_weak", flow.weak)
    rows = con.sql(
        """
        select f.kit_id, f.stations_low, f.stations_high, f.missing_link, f.spare_kind,
            count(w.item_id) as weak_parts, string_agg(i.item, ', ' order by i.line) as weak_items,
            coalesce(list(i.line order by i.line) filter (i.line is not null), []) as weak_lines,
            coalesce(list(i.line order by i.line) filter (w.is_doubtful), []) as doubtful_lines
        from flow_kit as f
        left join flow_weak as w using (kit_id)
        left join item as i on i.item_id = w.item_id
        group by f.kit_id, f.stations_low, f.stations_high, f.missing_link, f.spare_kind
        """
    ).to_arrow_table()
    con.unregister("flow_kit")
    con.unregister("flow_weak")
    return {"station": rows, "station_step": flow.path}
