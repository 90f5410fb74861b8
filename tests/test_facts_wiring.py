"""Leads, fuses and feed lines of small clubs, against thought and published tables."""

from datetime import date

import pandas as pd
import pytest

from rules import facts
from rules.facts import wiring
from rules.policy import Policy
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, LEAD, MOBILE

FUSE = {"kind": "fuse", "amps_rated": 15.0}


def fuses(*things: dict[str, object]) -> pd.DataFrame:
    return (
        small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
        .table("fuse")
        .set_index("item_id")
    )


def test_a_fuse_suits_from_a_quarter_over_the_load_to_what_the_wire_carries() -> None:
    row = fuses(MOBILE | {"amps_tx": 12.0}, LEAD | {"wire_awg": 12.0}, FUSE).loc[3]
    assert row[["fuse_a", "peak_a", "least_a", "thin_a", "ampacity_a"]].tolist() == [15, 12, 15, 30, 30]
    assert row["wire_mm2"] == pytest.approx(3.309, abs=5e-4)


def test_a_fuse_may_sit_before_the_thinnest_lead_or_the_heaviest() -> None:
    leads = (LEAD | {"wire_awg": 16.0}, LEAD | {"item": "heavy", "wire_awg": 8.0})
    row = fuses(MOBILE, *leads, FUSE).loc[4]
    assert row[["thin_a", "ampacity_a"]].tolist() == [19, 55]


def test_an_adapter_that_tells_its_wire_may_be_the_thinnest_behind_a_fuse() -> None:
    lead, adapter = LEAD | {"wire_awg": 8.0}, LEAD | {"kind": "dc_adapter", "item": "adapter"}
    for told, thin_a in (({"wire_awg": 16.0}, 19), ({"wire_awg": 6.0}, 55), ({"wire_awg": None}, 55)):
        row = fuses(MOBILE, lead, adapter | told, FUSE).loc[4]
        assert row[["thin_a", "ampacity_a"]].tolist() == [thin_a, 55]


def test_a_wire_told_on_the_fuses_own_line_counts_before_the_leads() -> None:
    row = fuses(MOBILE, LEAD | {"wire_awg": 8.0}, FUSE | {"wire_awg": 16.0}).loc[3]
    assert row[["thin_a", "ampacity_a", "how"]].tolist() == [19, 19, "told"]


def test_a_lead_of_untold_wire_carries_the_rating_that_it_tells_and_for_certain_no_more_than_its_radio_asks() -> (
    None
):
    def carried(lead: dict[str, object], fuse_a: float, **radio: float) -> list[float | None]:
        row = fuses(MOBILE | {"amps_tx": 11.0} | radio, lead, FUSE | {"amps_rated": fuse_a}).loc[3]
        return [None if pd.isna(row[name]) else row[name] for name in ("thin_a", "ampacity_a", "wire_mm2")]

    assert carried(LEAD | {"amps_rated": 15.0}, 30.0) == [15, 15, None]
    assert carried(LEAD | {"amps_rated": 40.0}, 40.0) == [40, 40, None]
    of_usual = [30, pytest.approx(3.309, abs=5e-4)]
    assert carried(LEAD, 15.0) == [30, *of_usual], "11 A want 18 AWG, which carries 15 A"
    assert carried(LEAD, 20.0) == [None, *of_usual]
    assert carried(LEAD, 30.0, amps_tx=22.0) == [None, *of_usual], "22 A want 14 AWG, which carries 25 A"


def test_a_lead_that_tells_how_far_its_fuse_sits_has_one_and_else_none() -> None:
    fused = LEAD | {"amps_rated": 20.0, "fuse_at_m": 0.1}
    beside, plain = LEAD | {"item": "other", "fuse_at_m": 0.1}, LEAD | {"item": "plain", "amps_rated": 40.0}
    table = fuses(MOBILE, fused, beside, plain, FUSE)
    assert table["fuse_a"].to_dict() == {2: 20.0, 5: 15.0}, (
        "left to the fuse beside it where it tells no rating"
    )
    assert fuses(MOBILE, beside)["fuse_a"].to_dict() == {2: 30.0}, "the kind's own"
    assert fuses(MOBILE, plain).empty


def test_a_spare_or_broken_fuse_is_before_nothing() -> None:
    rest = (FUSE | {"spare": True}, FUSE | {"item": "b", "condition": "faulty"})
    assert fuses(MOBILE, LEAD, *rest).empty


def test_a_section_that_was_told_is_told() -> None:
    def how(**wire: float) -> str:
        things = small_club.kit("QA1BC", "box", MOBILE, LEAD | {"length_m": 2.0} | wire)
        told = small_club.assess(inventory=things)
        return str(told.table("lead")["how"].iloc[0])

    assert [how(), how(wire_awg=10.0), how(wire_mm2=6.0)] == ["assumed", "told", "told"]


def test_a_large_fuse_beside_a_thin_lead_blocks_and_a_small_one_limits_or_blows() -> None:
    def found(
        amps: float, *others: dict[str, object], status: str = "not met", **told: int
    ) -> dict[str, str]:
        club = small_club.assess(
            inventory=small_club.kit(
                "QA1BC", "box", MOBILE, LEAD, FUSE | {"amps_rated": amps} | told, *others
            )
        )
        of_fuses = (
            rule.name for rule in club.rules if rule.name.startswith("fuse_") and "far" not in rule.name
        )
        return {one.rule: one.severity for one in club.answers(*of_fuses) if one.status == status}

    assert found(60.0) == {"fuse_larger_than_the_wire": "blocks"}
    assert found(10.0) == {"fuse_smaller_than_the_load": "limits"}
    assert found(5.0) == {"fuse_blows_on_transmit": "blocks"}
    assert found(15.0) == found(15.0, status="not known") == {}
    unsure = {"fuse_blows_on_transmit": "blocks"}
    assert found(5.0, quantity=2, status="not known") == unsure, "one may lie in the bag"
    assert found(5.0, FUSE | {"amps_rated": 5.0}, status="not known") == unsure, "also where each has a line"
    other = FUSE | {"fuse_at_m": 0.1, "amps_rated": None}
    assert unsure.items() <= found(5.0, other, status="not known", fuse_at_m=0.1).items(), (
        "the other may hold"
    )


# RG-58C/U at 146 MHz loses 21.97 dB in 100 m (coefficient list of open RF calculators, tests/published/feedline.toml), so
# 4.552 m lose the 1 dB of which NCVEC G5B10 says that it is 20.6 % of the power.
DECIBEL = COAX | {"coax": "rg58", "length_m": 100 / 21.97}
HUNDRED = MOBILE | {"bands": "2m", "rf_watts": 100.0}


def line(*things: dict[str, object]) -> pd.Series:
    told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
    return told.table("feedline").iloc[0]


def test_a_decibel_of_line_takes_the_published_fifth_of_the_power() -> None:
    row = line(HUNDRED, DECIBEL, ANTENNA)
    assert row["loss_db"] == pytest.approx(1.0, abs=0.0005)
    assert 100 - row["antenna_w"] == pytest.approx(20.6, abs=0.05)


def test_a_poor_match_takes_more_of_it_and_the_loss_told_is_that_of_the_line() -> None:
    """NCVEC G9A02: a high standing-wave ratio on a lossy line is more loss; at 2:1 rho is 1/3."""
    matched, poor = line(HUNDRED, DECIBEL, ANTENNA), line(HUNDRED, DECIBEL, ANTENNA | {"swr": 2.0})
    assert poor["loss_db"] == matched["loss_db"]
    a = 100 / matched["antenna_w"]
    assert poor["antenna_w"] == pytest.approx(100 * a * (1 - 1 / 9) / (a**2 - 1 / 9))
    assert poor["antenna_w"] < matched["antenna_w"]


def test_the_match_is_that_of_an_antenna_for_the_band() -> None:
    wire = {"kind": "dipole", "bands": "40m", "swr": 9.0}
    assert line(HUNDRED, DECIBEL, ANTENNA, wire)["antenna_w"] == line(HUNDRED, DECIBEL, ANTENNA)["antenna_w"]


def test_the_power_is_that_of_the_strongest_radio_on_the_highest_band() -> None:
    hf = {"kind": "hf_100w", "bands": "20m", "rf_watts": 400.0}
    assert line(HUNDRED, hf, HUNDRED | {"item": "weak", "rf_watts": 10.0}, DECIBEL)["rf_watts"] == 100
    assert pd.isna(line({"kind": "handheld"}, DECIBEL)["antenna_w"])


def test_a_spare_line_is_left_out_where_one_in_use_does_its_work() -> None:
    """Either stands in the example station; the one in use counts as on the way, and the spare alone where there is no other."""
    spare = COAX | {"item": "spare", "coax": "rg58", "length_m": 20.0, "spare": True}

    def found(*things: dict[str, object]) -> list[tuple[int, bool]]:
        told = small_club.assess(
            inventory=small_club.kit("QA1BC", "box", MOBILE, BATTERY, LEAD, ANTENNA, *things)
        )
        return sorted(zip(*(told.table("feedline")[name] for name in ("item_id", "is_on_way")), strict=True))

    assert found(COAX, spare) == [(5, True)]
    assert found(spare, COAX) == [(6, True)]
    assert found(spare) == [(5, True)]


def test_two_lines_joined_by_a_barrel_both_stand_before_the_antenna() -> None:
    barrel = {"kind": "barrel_connector", "rf_plug": "bnc_female", "rf_plug_far": "bnc_female"}
    half = DECIBEL | {"rf_plug_far": "bnc_male"}
    told = small_club.assess(
        inventory=small_club.kit(
            "QA1BC", "box", HUNDRED, BATTERY, LEAD, ANTENNA, half, half | {"item": "second"},
            DECIBEL | {"item": "for other plugs", "rf_plug": "n_male", "rf_plug_far": "n_male"}, barrel,
        )
    )  # fmt: skip
    found = told.table("feedline").sort_values("item_id")
    assert found["is_on_way"].tolist() == [True, True, False]
    assert found["loss_db"].tolist() == pytest.approx([1.0] * 3, abs=0.0005)
    assert found["antenna_w"].tolist() == pytest.approx([63.1, 63.1, 79.4], abs=0.05)


def test_the_band_is_the_highest_that_radio_and_antenna_share() -> None:
    dual, low = MOBILE | {"bands": "2m 70cm"}, ANTENNA | {"bands": "2m"}
    assert line(dual, DECIBEL, low)["band"] == "2m"
    assert line(dual, DECIBEL, low, ANTENNA | {"item": "b", "bands": "70cm"})["band"] == "70cm"
    assert line(dual, DECIBEL, low | {"bands": "6m"})["band"] == "70cm", "none shared: as the radio is"
    assert line(dual, DECIBEL)["band"] == "70cm"


def test_a_pigtail_on_the_way_is_a_line_and_another_is_none() -> None:
    handheld = small_club.HANDHELD | {"rf_plug": "sma_female", "bands": "2m"}
    pigtail = {"kind": "rf_pigtail", "rf_plug": "sma_male", "rf_plug_far": "so239"}
    things = (
        handheld,
        small_club.PACK,
        pigtail,
        pigtail | {"item": "other", "rf_plug": "n_male"},
        COAX,
        ANTENNA,
    )
    told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
    rows = told.table("feedline").sort_values("item_id")
    assert rows[["item_id", "coax", "is_adapter"]].values.tolist() == [[3, "rg174", True], [5, "rg8x", False]]


def test_leads_drop_one_after_the_other_only_where_the_plugs_leave_no_way_around() -> None:
    """3.2 m of 12 AWG drop 2.7 % at 11 A; nobody is taken to string a second lead to one that reaches the radio."""

    def too_much(near: str, far: str, radio: str, kind: str = "dc_lead") -> list[str]:
        leads = [LEAD | {"item": name, "wire_awg": 12.0, "length_m": 3.2} for name in ("first", "second")]
        leads[0] |= {"dc_plug_far": near}
        leads[1] |= {"kind": kind, "dc_plug": far, "dc_plug_far": radio.replace("male", "female")}
        things = (MOBILE | {"dc_plug": radio}, BATTERY | {"amps_rated": 30.0}, *leads, COAX, ANTENNA)
        told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
        return [one.status for one in told.answers("drop_over_three_percent")]

    assert too_much("genderless_30", "genderless_30", "genderless_30") == ["met", "met"]
    for kind in ("dc_lead", "dc_adapter"):
        assert sorted(too_much("xt60_male", "xt60_female", "t_plug_male", kind)) == ["met", "not met"]


def test_before_a_converter_the_fuse_and_the_lead_are_held_to_what_it_takes_in() -> None:
    """11 A at 13.8 V are nine tenths of 14.2 A from an AGM battery and of 6.4 A from one of 24 V."""
    converter = {
        "dc_plug": "genderless_30",
        "dc_plug_far": "genderless_30",
        "volts_min": 13.8,
        "volts_max": 13.8,
    }
    agm = BATTERY | {"kind": "battery_agm", "capacity_ah": 35.0, "dc_plug": "genderless_30"}
    high = BATTERY | {"volts_min": 24.0, "volts_max": 28.8}

    def passes(battery: dict[str, object], kind: str) -> list[float]:
        things = (MOBILE, battery, converter | {"kind": kind, "amps_rated": 25.0}, FUSE, COAX, ANTENNA)
        told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
        rows = told.rows("select item_id, gain from passing order by item_id")
        return [round(11 * float(gain), 1) for _, gain in rows]

    assert passes(agm, "boost_converter") == [14.2, 14.2], "the battery and the fuse, though it reaches alone"
    assert passes(BATTERY, "boost_converter") == []
    assert passes(high, "buck_converter") == [6.4, 6.4]


def test_two_radios_behind_a_block_load_the_one_lead_and_fuse_before_it() -> None:
    plug = {"dc_plug": "t_plug_male", "quantity": 2}
    block = {"kind": "dc_block", "dc_plug": "xt60_female", "dc_plug_far": "genderless_30", "amps_rated": 40.0}
    main = LEAD | {
        "item": "main lead",
        "dc_plug": "ring_m6",
        "dc_plug_far": "xt60_male",
        "length_m": 1.0,
        "amps_rated": 30.0,
    }
    tails = LEAD | {"item": "tail", "dc_plug_far": "t_plug_female", "quantity": 2, "length_m": 0.5}
    battery = BATTERY | {"dc_plug": "posts", "amps_rated": 40.0}
    rest = [thing | {"quantity": 2} for thing in (COAX, ANTENNA)]

    def said(amps: float, post_type: str) -> list[str]:
        fused = {
            "kind": "fuse_holder",
            "amps_rated": amps,
            "dc_plug": "genderless_30",
            "dc_plug_far": "genderless_30",
        }
        told = small_club.assess(
            inventory=small_club.kit(
                "QA1BC", "Bag", MOBILE | plug, battery, fused, main, block, tails, *rest
            ),
            events=[EVENT],
            posts=[{"event": "Ride", "post": "Ford", "bands": "2m", "modes": "fm", "post_type": post_type}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        )
        return [one.status for one in told.answers("line_weaker_than_two_radios")]

    # 22 A from both; the holder is on no way that the plugs force, as tail and block join without
    assert said(15.0, "digital") == ["met"]
    main["amps_rated"] = 20.0
    assert said(15.0, "digital") == ["not met"]
    assert said(15.0, "aid_station") == []


@pytest.mark.parametrize(("least_v", "passes"), [(11.0, [(1, 1.25), (2, 1.25)]), (12.0, [])])
def test_a_booster_beside_the_example_station_passes_battery_and_fuses_in_use_where_that_falls_too_low(
    least_v: float, passes: list[tuple[int, float]]
) -> None:
    con = facts.blank()
    con.execute(
        """
        insert into item (item_id, kit_id, role, kind, volts_min, volts_max, is_spare, is_usable) values
            (1, 1, 'source', 'battery_agm', $least_v, 12.8, false, true), (2, 1, 'fuse', 'fuse_holder', null, null, false, true),
            (3, 1, 'converter', 'boost_converter', null, null, false, true), (4, 1, 'fuse', 'fuse', null, null, true, true),
            (5, 1, 'radio', 'hf_100w', 11.7, 15.9, false, true)
        """,
        {"least_v": least_v},
    )
    con.execute(
        """
        insert into station_step by name select 1 as kit_id, unnest([0, 1]) as step, unnest([1, 5]) as item_id;
        insert into supply by name select 1 as supply_id, 1 as kit_id, 5 as radio_item_id;
        insert into feed by name select 1 as supply_id, 1 as item_id, 1.25 as gain, true as is_converted
        """
    )
    con.execute("insert into holding by name select 1 as kit_id, true as has_mobile, 22 as peak_a")
    facts._work_out(con, wiring.passing, Policy.standard(), date(2027, 3, 1))
    assert con.execute("select item_id, gain from passing order by item_id").fetchall() == passes
