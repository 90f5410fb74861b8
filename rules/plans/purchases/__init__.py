"""What to buy: the offers that close the most weighted gap for the money.

Every way of equipping a kit, one offer or several together, is first tried on a copy of the kit and judged by all
rules (`trying`; what is wanted stands in `wanted`, what a way changes in `fitting`, what whole clubs share in
`shares`). An integer program (`choosing`) then picks at most one way for each kit and group; what is shared out is
bought in whole assortments. What is picked for kits that meet is judged together on copies of them, and what comes
out otherwise than each way alone promises is learnt (`settling`). For a kit at a post the best ways of two groups are
judged together beforehand: each may be light enough to carry, and both too heavy. The plan is applied to a copy of
the whole club and judged again, and told as a list to buy (`buy_list`).

The gap is the sum of the policy's weights over findings that are not met: of items, kits and assigned kits at posts,
of posts where a thing in a kit there mends it, and of the club where it asks that a share of its gear has one plug.
A purchase closes a finding that then is met or no longer asked, and counts against itself the findings that it opens.
"""

from rules.plans.purchases.buy_list import Line, Plan, buy_list_csv, frontier, plan
from rules.plans.purchases.trying import Market, market

__all__ = ["Line", "Market", "Plan", "buy_list_csv", "frontier", "market", "plan"]
