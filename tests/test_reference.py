"""The reference tables hold together, agree with what is published, and no word stands for two things."""

from __future__ import annotations

import csv
import re
from itertools import combinations_with_replacement

import pandas as pd
import pytest

from data import forms, reference, schema, usual

TABLES = sorted(path.stem for path in reference.HERE.glob("*.csv"))
KEYS = {
    "kinds": ["kind"],
    "connectors": ["plug"],
    "mating": ["plug_a", "plug_b"],
    "chemistries": ["chemistry"],
    "wire": ["awg"],
    "coax": ["coax"],
    "duty": ["duty"],
    "post_types": ["post_type"],
    "bands": ["band"],
    "modes": ["mode"],
    "licences": ["licence_class"],
    "privileges": ["licence_class", "band"],
    "fuses": ["amps"],
    "aliases": ["column", "word"],
    "ambiguous": ["column", "written"],
    "prices": ["kind"],
    "usual": ["column", "level", "of"],
    "ratings": ["chemistry", "least_ah"],
}
ROLES = {"radio", "source", "pack", "lead", "converter", "charger", "solar", "antenna", "coax", "rf_adapter"}
ROLES |= {"other_radio", "audio", "fuse", "mast", "tool", "paper", "safety", "personal", "computer", "other"}
WORD_COLUMNS = [*reference.WORDS_IN, "condition"]
TEMPLATES = reference.HERE.parent / "templates"


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_a_source_and_a_known_basis(name: str) -> None:
    frame = reference.table(name)
    assert len(frame) > 0
    assert frame["source"].notna().all()
    assert set(frame["basis"]) <= {"published", "common practice", "estimate"}


@pytest.mark.parametrize("name", TABLES)
def test_keys_are_unique_and_full(name: str) -> None:
    keys = reference.table(name)[KEYS[name]]
    assert keys.notna().all(axis=None)
    assert not keys.duplicated().any()


@pytest.mark.parametrize("name", TABLES)
def test_words_are_slugs_and_cells_have_no_stray_blanks(name: str) -> None:
    frame = reference.table(name)
    key = KEYS[name][0]
    if frame[key].dtype == object:
        assert frame[key].str.fullmatch(r"[a-z0-9_.]+").all()
    for column in frame.select_dtypes(object):
        told = frame[column].dropna()
        assert (told == told.str.strip()).all(), column


def test_text_is_str_or_none_and_numbers_are_float() -> None:
    kinds = reference.kinds()
    assert {type(cell) for cell in kinds["chemistry"]} == {str, type(None)}
    assert kinds["volts_min"].dtype == float
    assert reference.table("post_types")["is_critical"].dtype == bool


def test_a_pick_list_of_85_kinds_or_more() -> None:
    assert len(reference.words("kind")) >= 85


@pytest.mark.parametrize(
    ("column", "allowed"),
    [("chemistry", "chemistry"), ("coax", "coax"), ("bands", "band"), ("modes", "mode")]
    + [(plug, "plug") for plug in ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")],
)
def test_kinds_use_only_words_of_the_other_tables(column: str, allowed: str) -> None:
    used = {word for cell in reference.kinds()[column].dropna() for word in cell.split()}
    assert used
    assert used <= set(reference.words(allowed))


def test_kinds_use_known_roles_and_all_of_them() -> None:
    assert set(reference.kinds()["role"]) == ROLES


def test_antenna_plugs_are_rf_and_power_plugs_are_not() -> None:
    domain = reference.table("connectors").set_index("plug")["domain"]
    kinds = reference.kinds()
    for column, is_rf in (
        ("dc_plug", False),
        ("dc_plug_far", False),
        ("rf_plug", True),
        ("rf_plug_far", True),
    ):
        used = set(kinds[column].dropna()) - {"builtin"}
        assert {domain[plug] == "rf" for plug in used} == {is_rf}, column


@pytest.mark.parametrize(
    ("low", "high"),
    [("volts_min", "volts_max"), ("price_low_usd", "price_high_usd"), ("amps_idle", "amps_rx")],
)
def test_low_is_not_above_high(low: str, high: str) -> None:
    told = reference.kinds().dropna(subset=[low, high])
    assert len(told) > 5
    assert (told[low] <= told[high]).all()


def test_radios_have_currents_and_what_only_listens_sends_nothing() -> None:
    kinds = reference.kinds().set_index("kind")
    radios = kinds[kinds["role"] == "radio"]
    assert (
        radios[["volts_min", "volts_max", "amps_tx", "amps_rx", "amps_idle", "rf_watts"]]
        .notna()
        .all(axis=None)
    )
    sends = radios[radios["rf_watts"] > 0]
    assert (sends["amps_tx"] > sends["amps_rx"]).all()
    # A radio cannot radiate more than it takes in.
    assert (sends["rf_watts"] < sends["amps_tx"] * sends["volts_max"]).all()


@pytest.mark.parametrize(
    ("converter", "load"), [("boost_converter", "hf_100w"), ("handheld_dc_lead", "handheld")]
)
def test_a_typical_converter_delivers_what_its_load_takes(converter: str, load: str) -> None:
    """The volts of a converter are those that it delivers, as the columns say and the stations take them."""
    volts = reference.kinds().set_index("kind")[["volts_min", "volts_max"]]
    assert volts.loc[load, "volts_min"] <= volts.loc[converter, "volts_min"]
    assert volts.loc[converter, "volts_max"] <= volts.loc[load, "volts_max"]


def test_typical_values_lie_within_what_a_member_may_send() -> None:
    columns = schema.columns("inventory")
    kinds = reference.kinds()
    for name in set(columns) & set(kinds.columns):
        column = columns[name]
        if column.low is not None and column.high is not None:
            assert kinds[name].dropna().between(column.low, column.high).all(), name


def test_a_battery_of_unknown_make_stays_unknown() -> None:
    kinds = reference.kinds().set_index("kind")
    assert (
        kinds.loc["battery", ["capacity_ah", "chemistry", "volts_min", "volts_max", "dc_plug"]].isna().all()
    )
    assert kinds.loc[["battery_lifepo4", "battery_agm"], "capacity_ah"].isna().all()


def test_chemistries_are_sane() -> None:
    told = reference.table("chemistries").set_index("chemistry")
    assert told["usable_share"].between(0.3, 1).all()
    assert told["peukert"].between(1, 1.4).all()
    assert (told["flag_years"] < told["life_years"]).all()
    assert told["store_charge_share"].dropna().between(0, 1).all()
    rechargeable = told.drop("alkaline")
    assert (rechargeable["charge_min_c"] < rechargeable["charge_max_c"]).all()
    assert told.loc["alkaline", ["charge_days", "charge_min_c", "charge_max_c"]].isna().all()
    batteries = reference.kinds().dropna(subset=["chemistry", "charge_days"])
    assert (batteries["charge_days"] == told.loc[batteries["chemistry"], "charge_days"].to_numpy())[
        batteries["role"].isin(["source", "pack"]).to_numpy()
    ].all()


# Chemistry, column, value as printed, source.
PUBLISHED_CHEMISTRY = [
    ("lifepo4", "charge_min_c", "0", "12.8 V 3.6 Ah pack data sheet"),
    ("lifepo4", "charge_max_c", "45", "12.8 V 3.6 Ah pack data sheet"),
    ("lifepo4", "peukert", "1.05", "engineering knowledge page"),
    ("flooded", "peukert", "1.25", "battery monitor manual, default for lead-acid"),
    ("nimh", "charge_min_c", "10", "land-mobile handheld manual"),
    ("nimh", "charge_max_c", "40", "land-mobile handheld manual"),
    (
        "agm",
        "given_back_share",
        "0.7",
        "battery design reference site: energy efficiency of lead-acid, about 70 %",
    ),
    (
        "lifepo4",
        "given_back_share",
        "0.92",
        "battery trade article: round trip of LiFePO4, 92 to 97 %, the low end",
    ),
]


@pytest.mark.parametrize(("chemistry", "column", "printed", "source"), PUBLISHED_CHEMISTRY)
def test_chemistry_as_published(chemistry: str, column: str, printed: str, source: str) -> None:
    told = reference.table("chemistries").set_index("chemistry").loc[chemistry, column]
    assert told == float(printed), source


@pytest.mark.parametrize(("rated_ah", "most_a"), [(14, 5.6), (40, 16)])
def test_sealed_lead_acid_is_charged_as_its_data_sheets_allow(rated_ah: float, most_a: float) -> None:
    """Largest initial charge current of an unbranded 12 V 14 Ah and a starved-electrolyte 12 V 40 Ah battery."""
    told = reference.table("chemistries").set_index("chemistry")
    assert told.loc["agm", "charge_per_h"] * rated_ah == pytest.approx(most_a)


def test_every_battery_that_may_be_charged_gives_back_a_part() -> None:
    back = reference.table("chemistries").set_index("chemistry")["given_back_share"]
    assert back.drop("alkaline").between(0, 1, inclusive="neither").all() and back["alkaline"] == 0


def test_wire_is_as_thick_as_its_gauge_and_thinner_wire_carries_less() -> None:
    told = reference.table("wire").sort_values("awg")
    assert told["mm2"].to_numpy() == pytest.approx(usual.awg_mm2(told["awg"]), abs=5e-5)
    assert told["ampacity_a"].is_monotonic_decreasing


# AWG, amperes as printed: NEC Table 310.16, copper, 90 C insulation as flexible leads have, 30 C ambient; thinner ones, which
# it leaves out, a hook-up wire chart in an accessory-outlet fuse primer, one wire at 80 C in free air. They agree on 14 AWG.
@pytest.mark.parametrize(
    ("awg", "printed"),
    [
        (22, "8"), (20, "10"), (18, "15"), (16, "19"), (14, "25"), (12, "30"), (10, "40"), (8, "55"), (6, "75"), (4, "95"),
    ],
)  # fmt: skip
def test_wire_ampacity_as_published(awg: int, printed: str) -> None:
    assert reference.table("wire").set_index("awg").loc[awg, "ampacity_a"] == float(printed)


# Coax, MHz, dB per 100 ft as printed, source; other tables than the coefficients come from, so 0.06 dB apart.
PUBLISHED_LOSS = [
    ("low_loss_240", 150, "3.0", "county emergency-communications coax table"),
    ("low_loss_240", 450, "5.3", "county emergency-communications coax table"),
    ("low_loss_400", 150, "1.5", "county emergency-communications coax table"),
    ("low_loss_400", 450, "2.7", "county emergency-communications coax table"),
    ("rg213", 150, "2.7", "land-mobile repeater training guide"),
    ("rg213", 450, "4.97", "land-mobile repeater training guide"),
]


@pytest.mark.parametrize(("coax", "mhz", "printed", "source"), PUBLISHED_LOSS)
def test_coax_coefficients_give_the_published_loss(coax: str, mhz: int, printed: str, source: str) -> None:
    row = reference.table("coax").set_index("coax").loc[coax]
    assert row["k1"] * mhz**0.5 + row["k2"] * mhz == pytest.approx(float(printed), abs=0.06), source


def test_duty_shares_sum_to_one() -> None:
    duty = reference.table("duty")
    shares = duty[["tx_share", "rx_share", "idle_share"]]
    assert (shares >= 0).all(axis=None)
    assert shares.sum(axis=1).to_numpy() == pytest.approx(1)


def test_mobile_on_the_published_duty_needs_the_published_battery() -> None:
    """12 h at 10 % transmit, 30 % receive: 20 Ah at 90 % usable (county emergency battery power page)."""
    mobile = reference.kinds().set_index("kind").loc["mobile_vhf_uhf"]
    needed_ah = 12 * (0.1 * mobile["amps_tx"] + 0.3 * mobile["amps_rx"] + 0.6 * mobile["amps_idle"])
    usable = reference.table("chemistries").set_index("chemistry").loc["lifepo4", "usable_share"]
    assert f"{needed_ah / usable:.0f}" == "20"


def test_published_supply_currents() -> None:
    kinds = reference.kinds().set_index("kind")
    assert kinds.loc["mobile_vhf_uhf", "amps_tx"] <= float("12")  # NCVEC T4A01: a 12 A supply carries 50 W
    # bench of a county emergency group's portable box, VHF mobile at its lowest setting
    assert kinds.loc["mobile_vhf_uhf", ["amps_tx_low", "rf_watts_low"]].tolist() == [float("4.7"), float("5")]
    assert kinds.loc["hf_100w", "amps_tx"] == float("22")  # ISED B-003-017-009
    assert kinds.loc["hf_100w", "amps_tx"] <= kinds.loc["supply_30a", "amps_rated"]


def test_post_types_use_known_words() -> None:
    posts = reference.table("post_types")
    roles = set(schema.columns("members")["roles"].listed)
    assert set(posts["duty"]) <= set(reference.words("duty"))
    assert roles
    assert set(posts["role_needed"].dropna()) <= roles
    assert (posts["operators"] >= 1).all()
    assert (posts["radios"] >= 1).all()
    assert posts.loc[posts["needs_two_ways"], "is_critical"].all()


def test_bands_are_in_order_and_do_not_overlap() -> None:
    bands = reference.table("bands")
    assert (bands["low_mhz"] < bands["high_mhz"]).all()
    assert (bands["high_mhz"].iloc[:-1].to_numpy() < bands["low_mhz"].iloc[1:].to_numpy()).all()


# Mode, average over peak as printed: FCC OET Bulletin 65 Supplement B Table 2; PSK31 from a US national
# amateur magazine.
@pytest.mark.parametrize(
    ("mode", "printed"),
    [
        ("ssb", "0.2"),
        ("ssb_processed", "0.5"),
        ("fm", "1.0"),
        ("rtty", "1.0"),
        ("cw", "0.4"),
        ("psk31", "0.75"),
    ],
)
def test_mode_duty_as_published(mode: str, printed: str) -> None:
    assert reference.table("modes").set_index("mode").loc[mode, "duty_factor"] == float(printed)


def test_blade_fuse_ratings() -> None:
    """ISO 8820-3 type C, encyclopaedic automotive-fuse table."""
    fuses = reference.table("fuses")
    published = fuses.loc[fuses["basis"] == "published", "amps"]
    assert published.tolist() == [1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40]


def test_licences_match_the_members_file() -> None:
    licences = reference.table("licences").set_index("licence_class")
    assert set(licences.index) == set(schema.columns("members")["licence_class"].words)
    assert not licences.loc["none"][["has_hf_voice", "has_vhf"]].any()


def test_privileges_are_of_classes_bands_and_modes_that_there_are() -> None:
    told = reference.table("privileges")
    assert set(told["licence_class"]) <= set(reference.words("licence_class"))
    assert set(told["band"]) <= set(reference.words("band"))
    assert set(" ".join(told["modes"]).split()) <= set(reference.words("mode"))


@pytest.mark.parametrize(
    ("band", "mode", "may"),
    [
        ("80m", "cw", True),
        ("80m", "ssb", False),
        ("10m", "ssb", True),
        ("10m", "fm", False),
        ("20m", "cw", False),
    ],
)
def test_what_a_technician_may_send_on_hf(band: str, mode: str, may: bool) -> None:
    """47 CFR 97.301(e), 97.305(c), 97.307(f)(9) and (10); NCVEC Technician 2026-2030 T1B01."""
    told = reference.table("privileges").set_index(["licence_class", "band"])["modes"]
    assert (mode in told.get(("technician", band), "").split()) is may


@pytest.mark.parametrize("licence", ["general", "advanced", "extra"])
def test_nobody_in_the_united_states_speaks_on_30_m(licence: str) -> None:
    """47 CFR 97.305(c)."""
    told = reference.table("privileges").set_index(["licence_class", "band"])["modes"]
    modes = told[licence, "30m"].split()
    assert "cw" in modes and not {"ssb", "ssb_processed", "fm", "am", "digital_voice"} & set(modes)


# ---------------------------------------------------------------------------------------------- mating
STANDARDS = "connector standards (common practice)"
TRADE = "trade practice (common practice)"
# Plug, plug, mates soundly, what the caution must mention, source. Seventeen facts; those on a whole series
# ("plug to plug") stand in their own tests below.
MATING_FACTS = [
    ("bnc_male", "bnc_female", True, "", STANDARDS),
    ("bnc_male", "bnc_female", True, "75 ohm", STANDARDS),
    ("n_male", "n_female", True, "", STANDARDS),
    ("n_male", "n_female", True, "75 ohm", STANDARDS),
    ("sma_male", "sma_female", True, "", STANDARDS),
    ("sma_male", "rp_sma_female", False, "pin meets pin or gap", TRADE),
    ("rp_sma_male", "rp_sma_female", True, "", TRADE),
    ("tnc_male", "tnc_female", True, "", STANDARDS),
    ("tnc_male", "bnc_female", False, "bayonet", STANDARDS),
    ("pl259", "so239", True, "150 MHz", STANDARDS),
    ("pl259", "n_female", False, "Same thread form", STANDARDS),
    (
        "genderless_15",
        "genderless_30",
        True,
        "lower contact rating",
        "state DC connector standard (published)",
    ),
    (
        "genderless_30",
        "genderless_45",
        True,
        "lower contact rating",
        "county power-connector pages (published)",
    ),
    ("iso4165_male", "j563_female", False, "adapter sleeve", "ISO 4165 scope page of a maker (published)"),
    ("barrel_2.1_male", "barrel_2.5_female", False, "does not go on", TRADE),
    ("barrel_2.5_male", "barrel_2.1_female", False, "loose", TRADE),
]


@pytest.mark.parametrize(("plug_a", "plug_b", "mates", "caution", "source"), MATING_FACTS)
def test_mating_facts(plug_a: str, plug_b: str, mates: bool, caution: str, source: str) -> None:
    assert ((plug_a, plug_b) in reference.mating_pairs()) is mates, source
    mating = reference.table("mating").set_index(["plug_a", "plug_b"])
    assert caution in (mating.loc[(plug_a, plug_b), "caution"] or ""), source


def test_pairs_hold_in_both_orders_and_name_known_plugs() -> None:
    pairs = reference.mating_pairs()
    assert {(b, a) for a, b in pairs} == pairs
    mating = reference.table("mating")
    assert set(mating["plug_a"]) | set(mating["plug_b"]) <= set(reference.words("plug"))
    unordered = [frozenset(pair) for pair in zip(mating["plug_a"], mating["plug_b"], strict=True)]
    assert len(unordered) == len(set(unordered))


# Families that meet across: what grips or bolts to what.
ACROSS = [("ring", "posts"), ("bare_wire", "posts"), ("clips", "ring"), ("clips", "posts")]
ACROSS += [("clips", "spade_f1"), ("clips", "spade_f2")]
ALONE = {"builtin", "clips", "posts", "bare_wire"}


def test_every_pair_of_plugs_mates_only_by_family_and_gender() -> None:
    """Within a series plug meets socket, never plug a plug or socket a socket."""
    plugs = reference.table("connectors").set_index("plug")
    across = {frozenset(pair) for pair in ACROSS}
    for a, b in combinations_with_replacement(plugs.index, 2):
        one, two = plugs.loc[a], plugs.loc[b]
        mates = (a, b) in reference.mating_pairs()
        if one["family"] == two["family"]:
            genders = {one["gender"], two["gender"]}
            opposite = genders == {"male", "female"}
            expected = opposite or (genders == {"none"} and one["family"] not in ALONE)
            assert mates == expected, (a, b)
        else:
            assert not mates or frozenset((one["family"], two["family"])) in across, (a, b)


def test_a_series_has_both_genders_or_none() -> None:
    for family, genders in reference.table("connectors").groupby("family")["gender"]:
        assert sorted(genders.unique()) in (["none"], ["female", "male"]), family


def test_only_one_domain_in_a_pair() -> None:
    domain = reference.table("connectors").set_index("plug")["domain"]
    assert {domain[a] == domain[b] for a, b in reference.mating_pairs()} == {True}


def test_plugs_rate_what_they_carry() -> None:
    plugs = reference.table("connectors").set_index("plug")
    assert set(plugs["gender"]) == {"male", "female", "none"}
    assert set(plugs["domain"]) == {"dc", "rf", "usb", "mains"}
    rf = plugs["domain"] == "rf"
    assert plugs.loc[rf, "rating_a"].isna().all()
    assert plugs.loc[~rf].drop("builtin")["rating_a"].notna().all()
    assert plugs.loc[["genderless_15", "genderless_30", "genderless_45"], "rating_a"].tolist() == [15, 30, 45]


# ------------------------------------------------------------------------------------------------ words
@pytest.mark.parametrize("column", WORD_COLUMNS)
def test_aliases_lead_to_words_and_words_to_themselves(column: str) -> None:
    known = reference.aliases(column)
    allowed = reference.words(column)
    assert set(known.values()) == set(allowed)
    assert all(known[word] == word for word in allowed)
    assert all(written == written.lower() for written in known)


@pytest.mark.parametrize("column", ["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far"])
def test_all_plug_columns_share_the_plugs(column: str) -> None:
    assert reference.words(column) == reference.words("plug")
    assert reference.aliases(column)["pl-259"] == "pl259"


@pytest.mark.parametrize(
    ("written", "column", "word"),
    [
        ("ht", "kind", "handheld"),
        ("moblie", "kind", "mobile_vhf_uhf"),
        ("dual band ht", "kind", "handheld"),
        ("lipo battery", "kind", "battery_li_ion"),
        ("mobile vhf uhf", "kind", "mobile_vhf_uhf"),
        ("so-239", "rf_plug", "so239"),
        ("lfp", "chemistry", "lifepo4"),
        ("rg-8x", "coax", "rg8x"),
        ("rg8x", "kind", "coax"),
        ("rg-58", "kind", "coax_thin"),
        ("aa", "kind", "spare_cells"),
        ("70 cm", "bands", "70cm"),
        ("rest stop", "post_type", "aid_station"),
        ("broken", "condition", "faulty"),
    ],
)
def test_words_that_members_write(written: str, column: str, word: str) -> None:
    assert reference.aliases(column)[written] == word


@pytest.mark.parametrize(
    ("written", "column", "meant"),
    [
        ("uhf", "plug", "pl259 or so239"),
        ("UHF", "rf_plug", "pl259 or so239"),
        ("PL", "plug", "pl259 or so239"),
        ("sma", "plug", "sma_male or sma_female"),
        ("Type_N", "plug", "n_male or n_female"),
        ("lithium", "chemistry", "lifepo4 or li_ion"),
        ("charger", "kind", "charger_lifepo4, charger_agm or charger_handheld"),
        ("vhf", "kind", "handheld or mobile_vhf_uhf"),
        ("jump starter", "kind", "battery_li_ion or battery_agm"),
        ("notebook", "kind", "clipboard or laptop"),
    ],
)
def test_ambiguous_words_stand_for_nothing_but_lead_on(written: str, column: str, meant: str) -> None:
    assert written.lower() not in reference.aliases(column)
    assert reference.near(written, column) == meant


def test_suggestions_name_only_allowed_words() -> None:
    for column, written, suggestion in reference.table("ambiguous")[
        ["column", "written", "suggestion"]
    ].itertuples(index=False):
        named = re.sub(r"\([^)]*\)", " ", suggestion)
        parts = set(re.findall(r"[a-z0-9_.]+", named)) - {"or"}
        assert parts
        assert parts <= set(reference.words(column)), (column, written)


@pytest.mark.parametrize(
    ("written", "column", "meant"),
    [
        ("hanheld", "kind", "handheld"),
        ("tunner", "kind", "tuner"),
        ("lifpo4", "chemistry", "lifepo4"),
        ("PL-295", "plug", "pl259"),
        ("thick-400", "coax", "low_loss_400"),
        ("Handheld", "kind", "handheld"),
        ("zzzz", "kind", None),
        ("xq", "kind", None),
        ("", "kind", None),
    ],
)
def test_near(written: str, column: str, meant: str | None) -> None:
    assert reference.near(written, column) == meant


def test_a_column_without_words_is_a_slip_of_the_code() -> None:
    with pytest.raises(KeyError, match=r'"weight" has no list of words'):
        reference.words("weight")


# ----------------------------------------------------------------------------------------- broken tables
@pytest.fixture
def elsewhere(tmp_path, monkeypatch):
    """Tables read from an empty folder; the real ones again afterwards."""
    caches = (
        reference.table,
        reference.mating_pairs,
        reference.words,
        reference.aliases,
        reference._ambiguous,
    )
    monkeypatch.setattr(reference, "HERE", tmp_path)
    for cached in caches:
        cached.cache_clear()
    yield tmp_path
    for cached in caches:
        cached.cache_clear()


def test_a_cell_that_is_no_number_is_named(elsewhere) -> None:
    (elsewhere / "fuses.csv").write_text("amps,source,basis\n5,s,published\nfive,s,published\n", "utf-8")
    with pytest.raises(ValueError, match=r'fuses\.csv line 3, amps: "five" is not a number'):
        reference.table("fuses")


def test_a_cell_that_is_neither_yes_nor_no_is_named(elsewhere) -> None:
    (elsewhere / "mating.csv").write_text("plug_a,plug_b,mates\nx,y,maybe\n", "utf-8")
    with pytest.raises(ValueError, match=r'mating\.csv line 2, mates: "maybe" is neither yes nor no'):
        reference.table("mating")


@pytest.mark.parametrize(
    ("second", "ambiguous", "says"),
    [("foo|bar", "", '"foo" stands for a and for b'), ("bar", "coax,foo,a or b\n", '"foo" is ambiguous')],
)
def test_one_writing_cannot_stand_for_two_words(elsewhere, second: str, ambiguous: str, says: str) -> None:
    (elsewhere / "coax.csv").write_text(f"coax,label,aliases\na,first,foo\nb,second,{second}\n", "utf-8")
    (elsewhere / "aliases.csv").write_text("column,word,aliases\n", "utf-8")
    (elsewhere / "ambiguous.csv").write_text("column,written,suggestion\n" + ambiguous, "utf-8")
    with pytest.raises(ValueError, match=says):
        reference.aliases("coax")


# --------------------------------------------------------------------------------------------- templates
def _template(stem: str) -> list[dict[str, str]]:
    with (TEMPLATES / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_one_template_for_each_file() -> None:
    assert {path.stem for path in TEMPLATES.glob("*.csv")} == set(schema.FILES)


@pytest.mark.parametrize("stem", schema.FILES)
def test_template_names_every_column_and_shows_one_row(stem: str) -> None:
    (row,) = _template(stem)
    columns = schema.columns(stem)
    assert list(row) == list(columns)
    for name, column in columns.items():
        value = row[name]
        if column.required:
            assert value, name
        if not value:
            continue
        if column.form in (forms.WORD, forms.WORDS) and column.words:
            assert set(value.split()) <= set(column.words), name
        elif column.form in (forms.NUMBER, forms.WHOLE):
            assert column.low <= float(value) <= column.high, name
        elif column.form in (forms.DATE, forms.MOMENT):
            assert forms.FIRST_DAY <= pd.Timestamp(value) <= forms.LAST_DAY, name
        elif column.form == forms.YES_NO:
            assert value in ("yes", "no"), name
        elif column.form == forms.MEMBER:
            assert value.startswith("Q"), name
