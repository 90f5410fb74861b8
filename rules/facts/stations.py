"""Complete stations of every kit, counted over the whole club at once."""

from __future__ import annotations

from datetime import date
from functools import cache

import duckdb
import numpy as np
import pyarrow as pa

from data import reference
from rules.facts import station_feed, station_reach
from rules.facts.places import distinct
from rules.facts.station_count import stations
from rules.facts.station_parts import DC_ROLES, ROLES, Mating, mating_of, usable_parts
from rules.policy import Policy

WORDS = {
    "source": "a charged battery or supply that fits the radio",
    "dc_path": "a power lead that joins battery and radio",
    "radio": "a radio",
    "antenna": "an antenna for the radio's bands",
    "rf_path": "coax or an adapter that joins radio and antenna",
}


THINGS = """
    select kit_id, item_id, line, role, kind, quantity, case when condition <> 'unknown' then is_usable end as is_usable,
        dc_plug, dc_plug_far, case when kind <> 'dry_cell_shell' then volts_min end as volts_min,
        case when kind <> 'dry_cell_shell' then volts_max end as volts_max, amps_tx,
        case when kind <> 'dry_cell_shell' then amps_rated end as amps_rated, pack_family, {others}
    from {of}
    where is_usable and list_contains($roles, role)
"""
ITEMS = THINGS.format(
    of="""item left join (
        select item_id, usual_a, charged_days > charge_end_days or dependable_ah = 0 as is_empty from battery
    ) using (item_id)""",
    others="rf_plug, rf_plug_far, bands, capacity_ah, usual_a, is_empty is not true as is_charged",
)
"""Things of which stations are made, with the columns of `station_parts.COLUMNS` and their lines; $roles are its roles."""
OF_POWER = THINGS.format(
    of="item",
    others="null::varchar as rf_plug, null::varchar as rf_plug_far, null::varchar as bands, "
    "null::double as capacity_ah, null::double as usual_a, null::boolean as is_charged",
)
"""The same of what stands on the side of power, without what is asked of others, and of a battery today."""


@cache
def mating() -> Mating:
    """All plugs, and which mate: what is not told may be a plug that nobody in the club has."""
    return mating_of(reference.mating_pairs(), reference.words("plug"))


def station(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Independent stations per kit as a range, the missing link, and the items that every station hangs on.

    A battery left for the policy's number of charge intervals counts as empty, as does one measured at no
    capacity; one without a charge date as charged before use. A shell for dry cells makes a station, at low
    power (rules/power/dry_cells_alone.sql): its figures, which are those of its cells at full power, are left
    out, so that it fits its handheld as a pack does.
    """
    items = con.sql(ITEMS, params={"roles": list(ROLES)}).to_arrow_table()
    kit_ids = np.asarray(
        con.execute("select distinct kit_id from item order by kit_id").fetchnumpy()["kit_id"]
    )
    share = float(policy.facts["converter_share"])
    flow = stations(items, mating(), share, kit_ids=kit_ids)
    link = flow.per_kit["missing_link"].combine_chunks().dictionary_encode()
    words = pa.array([WORDS.get(word, word) for word in link.dictionary.to_pylist()], pa.string())
    rows = flow.per_kit.select(["kit_id", "stations_low", "stations_high", "spare_kind"])
    rows = rows.append_column("missing_link", words.take(link.indices))
    weak = _with_lines(flow.weak, items)
    for name, some in (("weak_lines", weak), ("doubtful_lines", weak.filter(weak["is_doubtful"]))):
        begin = np.searchsorted(some["kit_id"].to_numpy(), kit_ids)
        lines = pa.ListArray.from_arrays(np.append(begin, len(some)), some["line"].combine_chunks())
        rows = rows.append_column(name, lines)
    return {"station": rows, "station_step": flow.path}


def apart(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """What power things of a kit are to its radios by their plugs: pairs that are not joined, where things
    lead, and the links of long ways."""
    items = con.sql(OF_POWER, params={"roles": ["radio", *DC_ROLES]}).to_arrow_table()
    kit_ids = distinct(items["kit_id"].to_numpy())
    parts = usable_parts(items, kit_ids, mating())
    item_id, amps_tx = parts.item_id, parts.figures["amps_tx"]
    led = station_reach.reached(parts)
    pairs = station_feed.apart(parts, float(policy.facts["converter_share"]))
    ways = {f"is_{name}": getattr(pairs, name) for name in ("straight", "boosted", "bucked", "stepped")}
    ways["is_converted"] = np.maximum.reduce([pairs.boosted, pairs.bucked, pairs.stepped])
    return {
        "leads_to": pa.table(
            {
                "item_id": item_id[led.thing],
                "kit_id": kit_ids[parts.kit[led.thing]],
                "radio_item_id": item_id[led.radio],
                "amps_tx": pa.array(amps_tx[led.radio], from_pandas=True),
                "is_converted": led.is_converted,
            }
        ),
        "chain": pa.table(
            {
                "radio_item_id": item_id[led.end],
                "amps_tx": pa.array(amps_tx[led.end], from_pandas=True),
                "rung": led.rung,
                "item_id": item_id[led.link],
            }
        ),
        "apart": pa.table(
            {"item_id": item_id[pairs.source], "radio_item_id": item_id[pairs.radio]}
            | {
                f"is_{sort}_in_series": is_so
                for sort, is_so in zip(("boost", "buck", "step"), pairs.is_in_series, strict=True)
            }
            | {
                name: pa.array(how == station_feed.SURE, mask=how == station_feed.MAYBE)
                for name, how in ways.items()
            }
        ),
    }


def _with_lines(weak: pa.Table, items: pa.Table) -> pa.Table:
    """Weak items with their lines, by kit and line; numbers of items have large gaps in copies of a club."""
    item_id, found = items["item_id"].to_numpy(), weak["item_id"].to_numpy()
    here = np.flatnonzero(np.isin(item_id, found))
    here = here[np.argsort(item_id[here])]
    place = here[np.searchsorted(item_id[here], found)]
    weak = weak.append_column("line", items["line"].take(pa.array(place)))
    return weak.take(np.lexsort((weak["line"].to_numpy(), weak["kit_id"].to_numpy())))
