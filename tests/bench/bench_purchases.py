"""Try 60 offers on 300 kits, choose for a budget, judge the plan; seconds, solver figures and the ratio to one review.

Run with `uv run python tests/bench/bench_purchases.py [KITS] [OFFERS]`. The kits are those of the demo club, the first
70 with its events, the others copies at no event; the offers are the club's own and planning prices. Nothing is gated.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import pandas as pd

from data import club, demo, reference, schema
from rules import engine
from rules.plans import purchases

TODAY = date(2027, 3, 1)
BUDGETS = (250.0, 1500.0, 5000.0)


def told(kits: int, offers: int) -> dict[str, pd.DataFrame]:
    """The demo club grown to a number of kits, with a price book of a number of offers."""
    with tempfile.TemporaryDirectory() as folder:
        demo.write(Path(folder), today=TODAY)
        frames = club.read_folder(Path(folder)).frames
    own = frames["inventory"].groupby(["member", "kit"], sort=False).ngroup()
    parts, held = [frames["inventory"]], int(own.max()) + 1
    number = 0
    while held < kits:
        number += 1
        more = frames["inventory"][own < kits - held]
        parts.append(more.assign(member=more["member"] + f"{number}"))
        held += more.groupby(["member", "kit"]).ngroups
    frames["inventory"] = pd.concat(parts, ignore_index=True)
    frames["inventory"]["line"] = range(2, len(frames["inventory"]) + 2)
    prices = reference.table("prices")
    rest = prices[~prices["kind"].isin(frames["offers"]["kind"])].head(offers - len(frames["offers"]))
    extra = pd.DataFrame(
        {
            "line": 1,
            "file": "prices",
            "offer": rest["kind"],
            "kind": rest["kind"],
            "price_usd": rest["price_usd"],
        },
        columns=schema.empty("offers").columns,
    ).astype(schema.empty("offers").dtypes)
    frames["offers"] = pd.concat([frames["offers"], extra], ignore_index=True)
    return frames


def main() -> None:
    kits, offers = (int(word) for word in [*sys.argv[1:], "300", "60"][:2])
    frames = told(kits, offers)
    engine.assess({}, today=TODAY)
    clock, cpu = time.perf_counter(), time.process_time()
    assessment = engine.assess(frames, today=TODAY, keep_met=False)
    review_s, review_cpu_s = time.perf_counter() - clock, time.process_time() - cpu
    clock, cpu = time.perf_counter(), time.process_time()
    of = purchases.market(assessment, frames["offers"])
    try_s, try_cpu_s = time.perf_counter() - clock, time.process_time() - cpu
    print(
        f"{len(assessment.table('kit'))} kits, {len(frames['offers'])} offers: one review {review_s:.2f} s (CPU {review_cpu_s:.2f} s); "
        f"{of.ways_tried} ways tried in {try_s:.2f} s (CPU {try_cpu_s:.2f} s), {try_s / review_s:.1f} reviews"
    )
    for budget in BUDGETS:
        clock = time.perf_counter()
        plan = purchases.plan(assessment, frames["offers"], budget, 10.0, of)
        took = time.perf_counter() - clock
        print(
            f"{budget:.0f} USD: {took:.2f} s with judging; promised {plan.promised:g}, judged {plan.judged:g}, bound {plan.bound:g}, "
            f"proven {plan.is_proven}, spent {plan.spent_usd:.0f} USD, {len(plan.lines)} lines"
        )


if __name__ == "__main__":
    main()
