"""What can hurt someone, said where they act: on pages, on paper and in calendars."""

CHECK = "Check local rules, and ask a licensed or qualified person."
CAUTIONS = {
    "charging": "Batteries and charging: charge only with a charger made for the chemistry, on a surface that cannot "
    "burn, where someone can see it, and never a swollen, punctured or frozen one.",
    "mains": "Mains and generators: keep generators outdoors and away from doors and windows, leads dry and protected; "
    "leave mains work to a licensed electrician.",
    "wiring": "Wires and fuses: a fuse belongs close to the battery, and a lead that gets warm is too thin.",
    "masts": "Masts and antennas: stay farther from power lines than mast and antenna together could fall, and take "
    "masts down before lightning comes.",
    "exposure": "RF exposure: keep people, bystanders too, farther from a transmitting antenna than the distance worked "
    "out for it.",
    "lightning": "Lightning: when thunder is heard stop, disconnect and go into a building or a hard-top vehicle until 30 "
    "minutes after the last thunder; no post is worth it.",
    "weather": "Heat and cold: shade, water and rest in the heat; dry layers and a warm place in the cold; go home before "
    "your own limit, not after it.",
    "traffic": "Beside traffic: wear high-visibility clothing, face the traffic, stand where a car that leaves the road does "
    "not reach you, and park off the road.",
    "carrying": "Carrying and walking: two people for a heavy box, and nobody walks in alone without a way to call.",
    "first_aid": "First aid: pass the call on at once; give only the help that you are trained for.",
}  # fmt: skip
HAZARDS = {
    "power": ("charging", "mains"),
    "batteries": ("charging",),
    "spares": ("charging",),
    "redundancy": ("charging", "wiring", "masts"),
    "rehearsal": ("charging", "masts"),
    "voltage": ("charging", "wiring"),
    "connectors": ("wiring",),
    "wiring": ("wiring",),
    "carrying": ("carrying",),
    "antenna": ("masts", "exposure"),
    "exposure": ("exposure",),
    "weather": ("lightning", "weather", "traffic"),
    "operator": ("weather", "carrying", "first_aid"),
    "coverage": ("exposure",),
}
ROLE_HAZARDS = {
    "source": ("charging",), "pack": ("charging",), "charger": ("charging", "mains"), "lead": ("wiring",),
    "fuse": ("wiring",), "converter": ("wiring",), "radio": ("exposure",), "antenna": ("masts", "exposure"),
    "mast": ("masts",),
}  # fmt: skip
ON_MAINS = ("generator", "extension_cord", "inverter", "supply_30a", "power_station")
"""Kinds of things that make mains or hang on it, besides chargers."""
