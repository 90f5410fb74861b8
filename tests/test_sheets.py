"""Paper, calendar, exports and letters: what they say, how many pages they take, and what never gets through."""

import csv
import io
import json
from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar
from pypdf import PdfReader
from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.units import mm
from reportlab.platypus import PageBreak
from typer.testing import CliRunner

from dashboard import sheet_commands, units
from dashboard.command import app
from dashboard.names import file_name
from dashboard.palette import VERDICTS
from dashboard.sheets import (
    asks,
    boxes,
    columns,
    dates,
    event,
    exports,
    forms,
    kit,
    loan,
    packing,
    paper,
    season,
    told,
)
from dashboard.sheets.purchases import USUAL_USD
from data import club, demo, upload
from rules.engine import assess
from rules.plans import offers, purchases
from rules.plans.purchases import Line, Plan

TODAY = date(2027, 3, 1)
EVENT = "Barley Ford Half Marathon"
HOSTILE = '<b>bold</b> & <img src="x"/> <para> &lt; {0} %s \\ ]]> <!-- =1+1'
LONG = "w" * 900
KITS = {
    "inventory.csv": [
        "member,kit,item,kind,quantity,module,spare,condition,capacity_ah,charged,expires,acquired",
        f'Q1ABC,"{HOSTILE.replace(chr(34), chr(34) * 2)}","{HOSTILE.replace(chr(34), chr(34) * 2)}",handheld,1,'
        f'"{HOSTILE.replace(chr(34), chr(34) * 2)}",,,,,,',
        f"Q1ABC,go bag,{LONG},handheld,1,{LONG},,,,,,",
        "Q1ABC,go bag,lithium block,battery_lifepo4,1,power,,,20,2027-01-10,,2026-01-01",
        "Q1ABC,go bag,Ωμέγα радио łódź,handheld,1,radio,,,,,,",
        "Q1ABC,go bag,無線機 라디오 ラジオ,handheld,1,radio,,,,,,",
        "Q1ABC,go bag,радио \U0001f4fb \U0001f600,headlamp,1,radio,,,,,,",
        "Q1ABC,go bag,worn lead,dc_lead,1,power,,faulty,,,,",
        "Q1ABC,go bag,spare pack,handheld_pack,2,radio,yes,,1.8,2026-06-01,,",
        "Q1ABC,go bag,bandages,first_aid,1,safety,,,,,2027-06-30,",
    ],
    "members.csv": [
        "member,licence_class,licence_expires,first_aid_expires,carry_limit_kg,solo_ok,night_ok,cold_limit_c,heat_limit_c,walk_limit_km",
        "Q1ABC,general,2027-09-01,2027-01-15,8,no,yes,0,30,2",
    ],
    "kits.csv": [
        "member,kit,hours,packed,inspected",
        "Q1ABC,go bag,6,2027-01-05,2026-05-01",
    ],
    "events.csv": [
        "event,starts,ends,utc_offset_h,temp_min_c,temp_max_c,storms_possible",
        "Fog Walk,2027-04-25T05:15,2027-04-25T12:30,-5,-4,12,yes",
        "=cmd|Walk,2027-05-01T08:00,2027-05-01T10:00,,,,",
    ],
    "posts.csv": [
        "event,post,post_type,bands,modes,access,walk_km,beside_traffic",
        "Fog Walk,Gate,aid_station,2m,fm,walk,3,yes",
        "Fog Walk,Bridge,mile_marker,2m,digital_voice,drive,,",
    ],
    "assignments.csv": ["event,post,member,kit", "Fog Walk,Gate,Q1ABC,go bag"],
    "offers.csv": ["offer,kind,price_usd,available,paid_by", "Spare radio,handheld,100,,member", "Dear radio,handheld,300,5,club"],
    "loans.csv": ["item,borrower,out,due,condition_out", "club <i>battery</i>,Q1ABC,2027-01-01,2027-02-01,ok"],
}  # fmt: skip


def write_small(folder):
    for name, lines in KITS.items():
        (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A club of one member whose texts are hostile, long and of many scripts."""
    folder = tmp_path_factory.mktemp("small")
    write_small(folder)
    read = club.read_folder(folder)
    assert read.problems == []
    return assess(read.frames, today=TODAY)


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory):
    """The invented club's files, as written on TODAY."""
    folder = tmp_path_factory.mktemp("demo")
    demo.write(folder, TODAY)
    return folder


@pytest.fixture(scope="module")
def whole(demo_folder):
    """The invented club, judged on TODAY."""
    return assess(club.read_folder(demo_folder).frames, today=TODAY)


def pages(pdf: bytes) -> list[str]:
    """The text of every page, on one line each."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def text(pdf: bytes) -> str:
    return " ".join(pages(pdf))


# --- contents list ---


def test_a_lid_list_names_modules_items_charge_dates_and_verdict(small):
    said = text(kit.lid(small, "Q1ABC", "go bag"))
    verdict = small.con.execute("select verdict from score join subject using (subject_kind, subject_id) "
                                "where subject = 'Q1ABC/go bag'").fetchone()[0]  # fmt: skip
    assert f"Kit of Q1ABC {VERDICTS[verdict].label}" in said
    assert "lithium block 20 2027-01-10 2027-07-09" in said  # LiFePO4: 180 days after 2027-01-10
    assert "spare pack (spare)" in said
    assert "worn lead faulty: leave it out" in said
    assert "good until 2027-06-30" in said
    assert "look over again by 2027-05-01" in said
    assert paper.CHECK in said and "Batteries and charging" in said
    for module in ("power", "radio", "safety"):
        assert module in said


def test_the_code_on_the_lid_is_the_address_of_the_kit(monkeypatch, small):
    asked = []
    made = paper.segno.make
    monkeypatch.setattr(
        paper.segno, "make", lambda address, **how: asked.append(address) or made(address, **how)
    )
    kit.lid(small, "Q1ABC", "go bag", base="https://kits.example.org/club/")
    assert asked == ["https://kits.example.org/club/kit?member=Q1ABC&kit=go+bag"]


def test_the_code_has_its_quiet_zone_and_every_dark_square():
    code = paper.Code("http://localhost:8501/kit?member=Q1ABC")
    assert [sum(row) for row in code.squares[:4]] == [0, 0, 0, 0]
    assert [bool(sign) for sign in code.squares[4][4:11]] == [
        True
    ] * 7  # the edge of the first finder pattern
    assert len(code.squares) == len(code.squares[0])


@pytest.mark.parametrize(
    "base", ["ftp://x", "javascript:alert(1)", "http://", "http://a b", "kits.example.org"]
)
def test_a_base_that_is_no_address_is_said_plainly(small, base):
    with pytest.raises(paper.SheetError, match="Write it like http://localhost:8501"):
        kit.lid(small, "Q1ABC", "go bag", base=base)


@pytest.mark.parametrize(("name", "size"), [("A4", A4), ("letter", letter), ("Letter", letter)])
def test_a_sheet_has_the_size_of_its_paper(small, name, size):
    box = PdfReader(io.BytesIO(kit.lid(small, "Q1ABC", "go bag", name))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.01)


def test_an_unknown_paper_is_said_plainly(small):
    with pytest.raises(paper.SheetError, match=r'paper: "A5" is not known. Write A4 or letter.'):
        kit.lid(small, "Q1ABC", "go bag", "A5")


@pytest.mark.parametrize(
    "make",
    [
        lambda club: kit.lid(club, "Q1ABC", "no bag"),
        lambda club: packing.packing(club, 99),
        lambda club: asks.asks(club, "Q9XYZ"),
        lambda club: asks.letter(club, "Q9XYZ"),
        lambda club: event.packet(club, "nowhere"),
        lambda club: loan.slip(club, 99),
        lambda club: forms.form(club, "205", "nowhere"),
        lambda club: forms.form(club, "205"),
        lambda club: forms.form(club, "202", "Fog Walk"),
        lambda club: forms.form(club, "214", "Fog Walk", post="nowhere"),
        lambda club: dates.calendar(club, "Q9XYZ"),
    ],
)
def test_what_is_not_there_is_said_plainly(small, make):
    with pytest.raises(paper.SheetError, match="Write"):
        make(small)


def test_the_same_club_gives_the_same_bytes(small):
    assert kit.lid(small, "Q1ABC", "go bag") == kit.lid(small, "Q1ABC", "go bag")


def test_every_page_says_when_it_was_printed_and_which_it_is(whole):
    said = pages(kit.lid(whole, "QA1BCD", "Command case A"))
    assert len(said) > 1
    for number, page in enumerate(said, 1):
        assert f"page {number} of {len(said)}" in page
        assert "Printed 2027-03-01" in page


# --- packing, asks, inspection, tags, loans ---


def test_a_packing_list_holds_post_limits_charging_and_what_is_open(small):
    said = text(packing.packing(small, 1))
    assert "Gate" in said and "Fog Walk: Q1ABC with go bag" in said
    assert "Sun 2027-04-25 05:15 to 12:30" in said
    assert "walk, 3 km on foot" in said and "own limit 8.0 kg" in said
    assert "Charge on Sat 2027-04-24" in said
    assert "worn lead" not in said  # faulty things stay at home
    for caution in ("Lightning", "Beside traffic", "Heat and cold", "Carrying and walking"):
        assert f"{caution}:" in said
    for finding in small.findings(
        "s.post = 'Gate' and s.member = 'Q1ABC' and j.severity_no = 0 and j.ok is false"
    ):
        assert finding.fix.split(".")[0] in said


def test_an_ask_list_has_three_asks_with_cost_and_cautions(small):
    given = told.asks(small, "Q1ABC")
    assert len(given) == 3
    said = text(asks.asks(small, "Q1ABC"))
    for number, ask in enumerate(given, 1):
        assert f"{number}. {ask.finding.title}" in said
        assert all(caution.partition(":")[0] in said for caution in ask.cautions)
    assert said.count("What to do:") == 3


def test_asks_rules_and_plans_price_a_thing_alike(small):
    """The usual range is the kind's, the cheapest offer is the one that the plan of purchases would take."""
    priced = offers.prices(small)
    kinds = small.table("kind").set_index("kind")[["price_low_usd", "price_high_usd"]]
    rules = {rule.name: rule for rule in small.rules}
    book = purchases.market(small, small.table("offer")).offers
    assert {offer.kind for offer in book} <= set(priced)
    for offer in book:
        cheapest = min(
            (o for o in book if o.kind == offer.kind and o.available != 0), key=lambda o: o.price_usd
        )
        told_ = priced[offer.kind].cheapest
        assert (told_.offer, told_.price_usd, told_.pieces) == (
            cheapest.offer,
            cheapest.price_usd,
            cheapest.pieces,
        )
    for ask in told.asks(small, "Q1ABC", 99):
        kind = offers.remedy(rules[ask.finding.rule], ask.finding.evidence)
        if kind in priced and ask.finding.status == "not met":
            low, high = kinds.loc[kind]
            assert ask.cost == told.cost(priced[kind]) and ask.cost.startswith(
                f"usually {low:.0f} to {high:.0f} USD"
            )
        else:
            assert ask.cost == ""
    assert told.cost(priced["handheld"]).endswith("in the club's price book: Spare radio, 100 USD")
    assert told.cost(priced["connector_kit"]).endswith("20 pieces, to share with others")


def test_a_letter_is_plain_text_that_a_mail_can_carry(small):
    said = asks.letter(small, "Q1ABC", base="https://kits.example.org")
    assert all(
        len(line) <= asks.LETTER_WIDTH
        for line in said.splitlines()
        if "://" not in line and LONG[:60] not in line
    )
    assert said.startswith("Hello Q1ABC,\n")
    flat = " ".join(said.split())
    for ask in told.asks(small, "Q1ABC"):
        assert ask.finding.title in flat
    assert "Before you act:" in said and paper.CHECK in said
    assert said.rstrip().endswith("https://kits.example.org/kit?member=Q1ABC")


def test_a_member_without_any_ask_is_thanked(monkeypatch, small):
    monkeypatch.setattr(told, "next_steps", lambda *given: [])
    assert asks.NOTHING in asks.letter(small, "Q1ABC")
    assert asks.NOTHING in text(asks.asks(small, "Q1ABC"))


def test_an_inspection_sheet_has_every_item_and_room_for_a_signature(small):
    said = text(kit.inspection(small, "Q1ABC", "go bag"))
    for item in ("lithium block", "worn lead", "bandages"):
        assert item in said
    assert "charge by 2027-07-09" in said and "good until 2027-06-30" in said
    assert "signature" in said and "the kit may go out" in said


@pytest.mark.parametrize(("kits", "count"), [(0, 1), (1, 1), (8, 1), (9, 2)])
@pytest.mark.parametrize("name", ["A4", "letter"])
def test_eight_tags_stand_on_a_page(whole, kits, count, name):
    named = list(whole.table("kit")[["member", "kit"]].itertuples(index=False, name=None))[:kits]
    said = pages(kit.tags(whole, named, name))
    assert len(said) == count
    assert all(member in " ".join(said) for member, _ in named)


@pytest.mark.parametrize("name", ["A4", "letter"])
def test_a_loan_slip_stands_twice_on_one_page(small, name):
    said = pages(loan.slip(small, 1, name))
    assert len(said) == 1
    assert said[0].count("club <i>battery</i>") == 3  # both halves and the running title
    assert "copy of the club" in said[0] and "copy of the borrower" in said[0]
    assert said[0].count("28 days late") == 2


def test_what_is_not_rechargeable_is_never_to_be_charged(whole):
    """Alkaline cells burst on a charger."""
    assert "dry-cell case for the handheld 2 never: fit fresh cells" in text(
        kit.lid(whole, "QF7VBC", "Event bag")
    )
    number = whole.con.execute(
        "select min(assignment_id) from assignment join member using (member_id) where member = 'QF7VBC'"
    ).fetchone()[0]
    assert "alkaline, not rechargeable, 2 Ah never: fit fresh cells" in text(packing.packing(whole, number))


def test_a_packing_list_begins_with_where_and_when(whole):
    said = pages(packing.packing(whole, 1))[0]
    row = whole.con.execute(
        "select post, assignment.starts, assignment.ends from assignment join post using (post_id) where assignment_id = 1"
    ).fetchone()
    assert f"{row[0]} {told.from_to(*row[1:])}" in said
    assert said.index("Before you act") < said.index("What goes along?")


def test_a_lent_kit_that_lacks_a_fuse_says_so_where_it_is_carried(whole):
    """What blocks a post because of a kit or its bearer stands on the packing list and in the packet."""
    sent = told.rows(whole, f"{packing.SENT} where p.event = ?", EVENT)
    bearing = told.bearing(whole, EVENT, sent)
    verdicts = told.verdicts(whole, "post")
    stops = {
        post: [f for f in found if (f.severity, f.status) == ("blocks", "not met")]
        for post, found in bearing.items()
    }
    bad = [row["post"] for row in sent if verdicts[f"{EVENT}/{row['post']}"].word == "not ready"]
    assert bad and all(stops[post] for post in bad)
    here = next(row for row in sent if any(f.subject_kind == "item" for f in stops[row["post"]]))
    why = next(f for f in stops[here["post"]] if f.subject_kind == "item")
    assert why.fix.split(".")[0] in text(packing.packing(whole, here["assignment_id"]))
    assert why.title.lower() in text(event.packet(whole, EVENT))


def test_a_kit_of_which_no_inspection_is_known_is_due_now(whole):
    assert kit.due(None, TODAY) == "<b>now</b>, no day is known"
    assert kit.due(TODAY - timedelta(days=366), TODAY) == "<b>2027-02-28, late</b>"
    assert kit.due(TODAY, TODAY) == "2028-02-29"
    assert "look over again: now, no day is known" in text(kit.tags(whole, [("QB4NST", "Last year's box")]))


@pytest.mark.parametrize(("count", "columns_"), [(1, 1), (2, 1), (40, 2), (120, 4)])
def test_a_list_in_columns_loses_nothing_and_says_its_heading_again(count, columns_):
    page = paper.Page("A4")
    listed = columns.entries(
        ["", "bag"], [[paper.Tick(), f"item{n:03}"] for n in range(count)], [6, 70], page
    )
    listed += columns.entries(["", "box"], [[paper.Tick(), "the last"]], [6, 70], page)
    read = pages(page.pdf("x", [paper.para("above"), columns.Columns(listed)], TODAY))
    said = " ".join(read)
    assert [said.count(f"item{n:03}") for n in range(count)] == [1] * count
    assert said.index("item000") < said.index("the last")
    assert said.count(" bag ") == columns_
    assert said.count("box the last") == 1, "a heading stays with what it heads"
    assert len(read) == (1 if count < 100 else 2)


@pytest.mark.parametrize(("breaks", "if_tight", "is_tight"), [(0, 0, False), (1, 0, True), (1, 1, False)])
def test_a_sheet_is_drawn_tightly_only_where_that_saves_a_page(breaks, if_tight, is_tight):
    asked = []

    def drawn(is_so: bool) -> list[object]:
        asked.append(is_so)
        return [paper.para("x"), *[PageBreak(), paper.para("x")] * (if_tight if is_so else breaks)]

    paper.Page("A4").fewest(drawn)
    assert asked[-1] is is_tight


def test_a_shape_stays_with_its_word_and_a_figure_with_its_unit():
    assert "</font>&nbsp;not ready" in paper.status(VERDICTS["not ready"])
    assert paper.words("at 20 Ah, 5 W and 12 things") == "at 20&nbsp;Ah, 5&nbsp;W and 12 things"


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_no_sheet_ends_on_a_page_of_cautions(whole, size):
    kits = list(whole.table("kit")[["member", "kit"]].itertuples(index=False, name=None))[::14]
    made = [kit.lid(whole, *named, size) for named in kits] + [
        kit.inspection(whole, *named, size) for named in kits
    ]
    made += [packing.packing(whole, number, size) for number in range(1, 126, 25)]
    for pdf in (*made, event.packet(whole, EVENT, size)):
        assert "Kit Muster Before you act" not in pages(pdf)[-1]


def test_paper_is_in_the_units_that_were_chosen(whole):
    number = whole.con.execute(
        "select assignment_id from assignment join post using (post_id) where post = 'Mile 7'"
    ).fetchone()[0]
    metric = text(packing.packing(whole, number))
    with units.chosen(True):
        pdf = packing.packing(whole, number)
    said = text(pdf)
    assert "3 to 17 °C" in metric and "37 to 63 °F" in said and "°C" not in said
    assert "to carry 12.5 kg" in metric and "to carry 27.5 lb" in said
    assert "0.1 km on foot" in metric and "0.1 mi on foot" in said
    assert "0.3 m, SMA" in metric and "0.3 m (1.0 ft), SMA" in said
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(letter, abs=0.01)


# --- season, event ---


def bought(count: int) -> Plan:
    """A plan of so many lines, with words as long as they come."""
    line = Line(
        "20 Ah battery <b>", "battery_lifepo4", 2, "Q1ABC/go bag with a long name", "member", 160.0, 320.0, True,
        ("Q1ABC/go bag: Battery runs out before the shift ends",) * 6, (), ("Fog Walk/Gate",),
    )  # fmt: skip
    return Plan(
        budget_usd=9000, spent_usd=count * 320.0, member_usd=count * 320.0, club_usd=0, gap=200, promised=50,
        judged=50, bound=50, is_proven=True, ways_tried=9, lines=(line,) * count, closed=(), opened=(),
        kits_ready=(), posts_opened=(), posts_before=0, posts_after=0,
    )  # fmt: skip


@pytest.mark.parametrize("name", ["A4", "letter"])
def test_the_season_takes_three_pages(whole, small, name):
    for one in (small, whole):
        said = pages(season.review(one, bought(40), name))
        assert len(said) == 3
        for part, at in zip(("What is missing", "What should the club buy", "Which kits"), said, strict=True):
            assert part in at
    assert "more in the dashboard" in said[0] and "more in the dashboard" in said[1]


def test_the_gaps_of_the_season_are_counted_as_the_tally_counts_them(whole):
    said = pages(season.review(whole, None))[0]
    worst = whole.tally().query("severity == 'blocks' and not_met > 0").nlargest(1, "not_met").iloc[0]
    assert worst.title in said
    assert f"{worst.not_met}" in said.split(worst.title)[1][:20]


def test_the_purchases_of_the_season_are_those_of_the_plan(small):
    said = pages(season.review(small, bought(2)))[1]
    assert "640 USD of 9,000 close 25% of the weighted gap" in said
    assert said.count("20 Ah battery <b> (estimate)") == 2 and said.count(" 320 member") == 2
    assert "Nothing that closes a finding" in pages(season.review(small, bought(0)))[1]


def test_who_may_not_see_purchases_gets_none_with_the_season(small):
    said = pages(season.review(small, None))
    assert len(said) == 2 and "buy" not in " ".join(said)


def test_kits_never_looked_over_come_first_and_late_ones_say_so(whole):
    said = pages(season.review(whole, None))[1]
    late = whole.con.execute(
        "select count(*) from kit where inspected is null or inspected + interval 365 day < ?", [TODAY]
    ).fetchone()[0]
    assert f"{late} of 70 kits are due now" in said
    assert said.index("no day is known") < said.index(", late")


def test_an_event_packet_names_posts_people_kits_runtime_and_go_or_no_go(small):
    said = text(event.packet(small, "Fog Walk"))
    row = small.con.execute("select runtime_low_h, runtime_high_h, runtime.need_h from runtime join post_kit using (post_kit_id) "
                            "join kit using (kit_id) join post using (post_id) where is_assigned and post = 'Gate'").fetchone()  # fmt: skip
    assert f"{told.span(row[0], row[1])} / {row[2]:.1f} h" in said
    assert "Q1ABC, go bag" in said and "nobody yet" in said
    assert "3 km / 2 km: past it" in said
    assert "-4 °C / 0 °C: past it" in said
    assert "12 °C / 30 °C" in said and "12 °C / 30 °C: past it" not in said
    assert "no go" in said and "Lightning:" in said
    assert "Where is somebody still wanted?" in said


def test_every_post_and_person_of_an_event_is_in_its_packet(whole):
    said = text(event.packet(whole, EVENT, "letter"))
    posts = whole.con.execute("select post from post where event = ?", [EVENT]).fetchall()
    people = whole.con.execute("select distinct member from assignment join member using (member_id) join event using "
                               "(event_id) where event = ?", [EVENT]).fetchall()  # fmt: skip
    assert [name for (name,) in posts + people if name not in said] == []


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_no_page_of_a_packet_is_left_nearly_empty(whole, size):
    said = pages(event.packet(whole, EVENT, size))
    assert [len(page) for page in said[:-1] if len(page) < 600] == []


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_check_in_list_keeps_call_signs_whole(whole, size):
    said = text(forms.form(whole, "211", EVENT, paper=size))
    sent = whole.con.execute(
        "select distinct member from assignment join member using (member_id) join event using (event_id) "
        "where event = ?", [EVENT]
    ).fetchall()  # fmt: skip
    assert [member for (member,) in sent if said.count(member) != 2] == []


def test_a_post_with_a_crowd_goes_on_in_another_row(small, monkeypatch):
    real = told.rows
    monkeypatch.setattr(
        told,
        "rows",
        lambda club, sql, *given: real(club, sql, *given) * (90 if sql.startswith("select a.*") else 1),
    )
    said = text(event.packet(small, "Fog Walk"))
    assert said.count("Gate, more") == 8


def test_an_address_too_long_for_a_code_leads_to_the_page():
    assert told.address(told.BASE, "kit", member="Q1ABC", kit="w" * 600) == f"{told.BASE}/kit"


def test_an_event_without_posts_still_has_a_packet(small):
    assert "=cmd|Walk" in text(event.packet(small, "=cmd|Walk"))


# --- forms ---

# Block titles, and numbers where they were read in the booklet: FEMA/NIMS ICS Forms Booklet (FEMA 502-2)
BLOCKS = {
    "205": ("Incident Radio Communications Plan", [
        "1. Incident Name", "2. Date/Time Prepared", "3. Operational Period", "4. Basic Radio Channel Use",
        "5. Special Instructions", "6. Prepared by (Communications Unit Leader)", "Zone Grp.", "Ch #", "Function",
        "Channel Name/Trunked Radio System Talkgroup", "Assignment", "RX Freq N or W", "RX Tone/NAC", "TX Freq N or W",
        "TX Tone/NAC", "Mode (A, D, or M)", "Remarks",
    ]),
    "205A": ("Communications List", [
        "1. Incident Name", "2. Operational Period", "3. Basic Local Communications Information",
        "Incident Assigned Position", "Name (Alphabetized)", "Method(s) of Contact", "4. Prepared by",
    ]),
    "204": ("Assignment List", [
        "1. Incident Name", "2. Operational Period", "3", "Branch", "Division", "Group", "Staging Area",
        "4. Operations Personnel", "Operations Section Chief", "Branch Director", "Division/Group Supervisor",
        "5. Resources Assigned", "Resource Identifier", "Leader", "# of Persons",
        "Contact (e.g., phone, pager, radio frequency, etc.)",
        "Reporting Location, Special Equipment and Supplies, Remarks, Notes, Information",
        "6. Work Assignments", "7. Special Instructions",
        "8. Communications (radio and/or phone contact numbers needed for this assignment)", "Name/Function",
        "Primary Contact: indicate cell, pager, or radio (frequency/system/channel)", "9. Prepared by",
    ]),
    "211": ("Incident Check-In List", [
        "1. Incident Name", "2. Incident Number", "3. Check-In Location", "4. Start Date/Time",
        "5. List single resource personnel (overhead) by agency and name, OR list resources by format",
        "6. Order Request #", "7. Date/Time Check-In", "8. Leader's Name", "9. Total Number of Personnel",
        "10. Incident Contact Information", "11. Home Unit or Agency", "12. Departure Point, Date and Time",
        "13. Method of Travel", "14. Incident Assignment", "15. Other Qualifications",
        "16. Data Provided to Resources Unit", "17. Prepared by",
    ]),
    "214": ("Activity Log", [
        "1. Incident Name", "2. Operational Period", "3. Name", "4. ICS Position", "5. Home Agency (and Unit)",
        "6. Resources Assigned", "Activity Log", "Notable Activities", "Prepared by",
    ]),
    "217A": ("Communications Resource Availability Worksheet", [
        "Frequency Band", "Description", "Channel Configuration", "Channel Name / Trunked Radio System Talkgroup",
        "Eligible Users / Assignments", "RX Freq N or W", "RX Tone/NAC", "TX Freq N or W", "TX Tone/NAC",
        "Mode A, D, or M", "Remarks",
    ]),
    "218": ("Support Vehicle/Equipment Inventory", [
        "1. Incident Name", "2. Incident Number", "3. Date/Time Prepared", "4. Vehicle/Equipment Category",
        "5. Vehicle/Equipment Information", "Order Request Number", "Incident ID No.",
        "Vehicle or Equipment Classification", "Vehicle or Equipment Make", "Category/Kind/Type, Capacity, or Size",
        "Vehicle or Equipment Features", "Agency or Owner", "Operator Name or Contact", "Vehicle License or ID No.",
        "Incident Assignment", "Incident Start Date and Time", "Incident Release Date and Time", "6. Prepared by",
    ]),
}  # fmt: skip


def unspaced(words: str) -> str:
    """Text without spaces: a narrow column breaks a title where it likes."""
    return "".join(words.split())


@pytest.mark.parametrize("number", BLOCKS)
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_form_has_the_title_and_blocks_of_the_booklet(small, number, size):
    title, blocks = BLOCKS[number]
    said = unspaced(text(forms.form(small, number, "Fog Walk", size)))
    assert unspaced(f"ICS {number}: {title}") in said
    assert [block for block in blocks if unspaced(block) not in said] == []


@pytest.mark.parametrize("number", BLOCKS)
def test_only_a_confirmed_block_carries_a_number(number):
    confirmed = {block for block in BLOCKS[number][1] if block.partition(".")[0].isdigit()}
    assert {block.name for block in forms.FORMS[f"ICS {number}"].blocks if block.number} == confirmed


def test_only_forms_of_the_table_are_made():
    assert set(forms.FORMS) == {f"ICS {number}" for number in BLOCKS}


def test_forms_are_filled_from_the_club(small):
    plan = text(forms.form(small, "205", "Fog Walk"))
    assert "Date From: 2027-04-25" in plan and "Time To: 12:30" in plan and "Date: 2027-03-01" in plan
    assert "Gate A 2m fm" in plan and "Bridge D 2m digital_voice" in plan
    listed = text(forms.form(small, "204", "Fog Walk"))
    assert "Q1ABC Q1ABC 1 radio, 2m Gate" in listed and "Bridge: " in listed
    assert "Gate Q1ABC radio, 2m" in text(forms.form(small, "205A", "Fog Walk"))
    assert "radio kit" in text(forms.form(small, "218", "Fog Walk"))
    resources = text(forms.form(small, "217A"))
    assert "2m (144 to 148 MHz)" in resources and "1 members" not in resources


def lowest_mm(page) -> float:
    """How far above the edge the last thing that a page says stands, mm; its running foot apart."""
    heights: list[float] = []
    page.extract_text(
        visitor_text=lambda said, cm, tm, *_: heights.append(tm[5] * cm[3] + cm[5]) if said.strip() else None
    )
    return min(height for height in heights if height > 10 * mm) / mm


@pytest.mark.parametrize("number", BLOCKS)
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_empty_rows_fill_the_pages_that_a_form_takes_anyway(monkeypatch, small, whole, number, size):
    """The last page of a form, each page of a log, ends less than two rows above the foot,
    and takes no page more than it must."""
    large = [(whole, EVENT)] if number != "214" else []
    for club_, name in [(small, "Fog Walk"), (small, "=cmd|Walk"), *large]:
        read = PdfReader(io.BytesIO(forms.form(club_, number, name, size))).pages
        ends = read if number == "214" else read[-1:]
        assert [round(lowest_mm(page)) for page in ends if lowest_mm(page) > 15 + 2 * boxes.ROW_MM] == []
        with monkeypatch.context() as bare:
            bare.setattr(forms, "fullest", lambda page, drawn: drawn(0))
            assert len(read) == len(pages(forms.form(club_, number, name, size)))


def test_a_form_with_more_posts_than_a_page_holds_goes_on(small, monkeypatch):
    real = told.rows
    monkeypatch.setattr(
        told, "rows", lambda club_, sql, *given: real(club_, sql, *given) * (60 if sql == forms.POSTS else 1)
    )
    said = text(forms.form(small, "204", "Fog Walk"))
    assert said.count("Bridge: mile marker or marshal") == 60


def test_courses_stand_as_on_their_certificates():
    assert forms._skills("general", "is100 is700") == "general, IS-100 IS-700"
    assert forms._skills(None, "aux_comm") == "aux comm" and forms._skills(None, None) == ""


def test_a_log_has_a_page_for_each_post_or_for_the_one_asked(small):
    every = pages(forms.form(small, "214", "Fog Walk"))
    assert len(every) == 2
    assert "Gate" in every[0] and "Bridge" in every[1]
    assert len(pages(forms.form(small, "214", "Fog Walk", post="Bridge"))) == 1


@pytest.mark.parametrize(
    ("modes", "said"), [("fm", "A"), ("packet", "D"), ("fm packet", "M"), (None, ""), ("", "")]
)
def test_modes_are_analogue_digital_or_mixed(modes, said):
    assert forms._mode(modes) == said


# --- text of all sorts ---


def test_hostile_text_is_printed_as_it_was_written(small):
    said = text(kit.lid(small, "Q1ABC", HOSTILE))
    assert unspaced(said).count(unspaced(HOSTILE)) >= 3  # title, module and item


def test_every_sheet_bears_hostile_and_endless_text(small):
    for name in ("A4", "letter"):
        made = list(sheet_commands._sheets(small, None, name, told.BASE))
        for _, path, make in made:
            content = make()
            if path.endswith(".pdf"):
                assert 1 <= len(pages(content)) <= 6, path
    assert {name for name, _, _ in made} == set(sheet_commands.NAMES)


def test_endless_text_is_cut_with_a_sign_that_it_goes_on(small):
    assert f"{'w' * (paper.LONGEST - 1)}…" in unspaced(text(kit.lid(small, "Q1ABC", "go bag")))


def test_letters_of_many_scripts_stay_readable(small):
    said = text(kit.lid(small, "Q1ABC", "go bag"))
    for word in ("Ωμέγα", "радио", "łódź", "(radio)", "(grinning face)"):
        assert word in said


@pytest.mark.parametrize(
    ("given", "made"),
    [
        ("a\x00b\x1bc\u2028d", "a b c d"),
        ("<i>x</i> &amp;", "&lt;i&gt;x&lt;/i&gt; &amp;amp;"),
        (None, "not known"),
        (True, "yes"),
        ("無", '<font name="STSong-Light">無</font>'),
        ("ラ", '<font name="HeiseiMin-W3">ラ</font>'),
        ("라", '<font name="HYSMyeongJo-Medium">라</font>'),
        ("אב", '<font name="fallback">בא</font>'),
        ("\U00012000", '<font name="fallback">□</font>'),
        ("x\u200d\ufe0f\u202e", "x"),
    ],
)
def test_a_text_becomes_markup_that_cannot_act(given, made):
    assert paper.words(given) == made


def test_values_put_into_markup_are_escaped_and_markup_of_ours_is_not():
    assert paper.mark("<b>{}</b>{}", "<i>", paper.mark("<i>{}</i>", "&")) == "<b>&lt;i&gt;</b><i>&amp;</i>"
    assert paper.joined(["<", ">"], "<br/>") == "&lt;&lt;br/&gt;&gt;"
    assert paper.joined(["<", ">"], paper.BREAK) == "&lt;<br/>&gt;"


def test_fonts_are_embedded_and_have_their_licence():
    reader = PdfReader(
        io.BytesIO(paper.Page().pdf("x", [paper.para("abc", "title"), paper.para("abc ω")], TODAY))
    )
    fonts = reader.pages[0]["/Resources"]["/Font"].get_object().values()
    embedded = {font.get_object()["/BaseFont"] for font in fonts if "/FontDescriptor" in font.get_object()}
    assert len(embedded) >= 3
    for file in paper.LETTERS.values():
        assert (paper.STATIC / f"{file}.ttf").is_file()
    assert "Permission is hereby granted" in (paper.STATIC / "fallback-licence.txt").read_text("utf-8")


# --- calendar ---


def read_back(content: bytes) -> dict[str, object]:
    """The entries of a calendar by title."""
    made = Calendar.from_ical(content)
    assert made["version"] == "2.0" and made["prodid"]
    found = list(made.walk("VEVENT"))
    uids = [str(entry["uid"]) for entry in found]
    assert len(set(uids)) == len(uids)
    return {str(entry["summary"]): entry for entry in found}


def test_the_calendar_holds_charges_inspections_expiries_loans_and_events(small):
    found = read_back(dates.calendar(small))
    assert found["Charge Q1ABC / go bag (1 to charge)"]["dtstart"].dt == date(2027, 7, 9)
    assert found["Look over Q1ABC / go bag"]["dtstart"].dt == date(2027, 5, 1)
    assert found["Q1ABC: licence ends"]["dtstart"].dt == date(2027, 9, 1)
    walk = found["Fog Walk"]
    assert walk["dtstart"].dt == datetime(2027, 4, 25, 10, 15, tzinfo=UTC)  # 05:15 five hours west
    assert walk["dtend"].dt == datetime(2027, 4, 25, 17, 30, tzinfo=UTC)
    assert found["=cmd|Walk"]["dtstart"].dt == datetime(2027, 5, 1, 8)  # no offset told: local time


def test_what_is_overdue_stands_on_the_present_day_and_says_since_when(small):
    found = read_back(dates.calendar(small))
    late = found["Q1ABC: first-aid certificate ends"]
    assert late["dtstart"].dt == TODAY
    assert "Overdue since 2027-01-15." in late["description"]
    charge = found["Charge Q1ABC / go bag (1 overdue)"]
    assert charge["dtstart"].dt == TODAY and "spare pack (by 2026-07-31)" in charge["description"]
    assert found["club <i>battery</i> is due back from Q1ABC"]["dtstart"].dt == TODAY


def test_a_whole_day_ends_on_the_next(small):
    entry = read_back(dates.calendar(small))["Q1ABC: licence ends"]
    assert entry["dtend"].dt - entry["dtstart"].dt == timedelta(days=1)


def test_a_member_s_calendar_has_the_shifts_and_nobody_else_s(small, whole):
    found = read_back(dates.calendar(small, "Q1ABC"))
    assert "Fog Walk: Gate" in found and "Fog Walk" not in found
    assert "go bag" in found["Fog Walk: Gate"]["description"]
    titles = " ".join(read_back(dates.calendar(whole, "QA1BCD")))
    others = [
        m for (m,) in whole.con.execute("select member from member where member <> 'QA1BCD'").fetchall()
    ]
    assert [member for member in others if member in titles] == []


def test_calendar_lines_are_folded_and_end_as_the_standard_asks(whole):
    content = dates.calendar(whole)
    assert content.count(b"\n") == content.count(b"\r\n")
    assert max(map(len, content.split(b"\r\n"))) <= 75  # RFC 5545, section 3.1


def test_an_entry_keeps_its_identity_from_day_to_day(small):
    later = dates.calendar(_with_day(small, TODAY + timedelta(days=1)))
    now = {title: str(entry["uid"]) for title, entry in read_back(dates.calendar(small)).items()}
    assert {title: str(entry["uid"]) for title, entry in read_back(later).items()} == now


def _with_day(assessment, day):
    return type(assessment)(assessment.con, assessment.rules, assessment.policy, day)


# --- exports ---


def rows(content: bytes) -> list[dict[str, str]]:
    assert content.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


def test_findings_are_exported_one_a_row(small):
    found = small.findings()
    sent = rows(exports.findings_csv(found))
    assert len(sent) == len(found)
    assert [row["sentence"] for row in sent] == [upload.neutralise(f.sentence) for f in found]


def test_asks_are_exported_for_every_member(whole):
    sent = rows(exports.asks_csv(whole, 2))
    first = [row for row in sent if row["member"] == "QA4FGK"]
    assert [row["title"] for row in first] == [ask.finding.title for ask in told.asks(whole, "QA4FGK", 2)]
    assert max(int(row["number"]) for row in sent) == 2


def test_no_exported_cell_is_a_formula(small):
    sent = exports._file(["a"], [["=1+1"], ["+x"], ["-2"], ["@x"], [None]])
    assert [row["a"] for row in csv.DictReader(io.StringIO(sent.decode("utf-8-sig")))] == [
        "'=1+1",
        "'+x",
        "-2",
        "'@x",
        "",
    ]
    for row in rows(exports.findings_csv(small.findings())):
        assert not any(value.startswith(("=", "+", "@")) for value in row.values())
    assert any(
        row["subject"].startswith("'=cmd")
        for row in rows(exports.findings_csv(small.findings(with_met=True)))
    )


# --- commands ---


def call(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments], prog_name="kitmuster")


@pytest.fixture
def folder(tmp_path):
    """The small club's files."""
    made = tmp_path / "club"
    made.mkdir()
    write_small(made)
    return made


def test_the_command_writes_every_sheet(folder, tmp_path):
    out = tmp_path / "out"
    result = call("sheets", folder, out, "--today", TODAY, "--paper", "letter")
    assert result.exit_code == 0, result.output
    written = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert f"{len(written)} files written to" in result.output
    assert {
        "season.pdf", "inspection-tags.pdf", "findings.csv", "asks.csv", "calendar.ics", "ics-217a.pdf",
        "kits/q1abc-go-bag-lid.pdf", "kits/q1abc-go-bag-inspection.pdf", "members/q1abc-asks.pdf",
        "members/q1abc-asks.txt", "events/fog-walk/packet.pdf", "events/fog-walk/ics-205.pdf",
        "events/fog-walk/packing-q1abc-gate.pdf", "loans/club-i-battery-i-q1abc.pdf",
    } <= written  # fmt: skip
    assert all(part.isascii() and ".." not in part for part in written)


def test_only_one_sort_of_sheet_is_written(folder, tmp_path):
    out = tmp_path / "out"
    assert call("sheets", folder, out, "--only", "season", "--today", TODAY).exit_code == 0
    assert [path.name for path in out.rglob("*.*")] == ["season.pdf"]
    told = json.loads(call("buy", folder, "--budget", USUAL_USD, "--today", TODAY, "--json").stdout)
    said = pages((out / "season.pdf").read_bytes())[1]
    assert told["lines"] and all(line["offer"] in said for line in told["lines"])
    assert f"{told['spent_usd']:,.0f} USD of {USUAL_USD:,}" in said


@pytest.mark.parametrize(("given", "said"), [([], "-4 to 12 °C"), (["--us"], "25 to 54 °F")])
def test_the_command_writes_in_the_units_that_are_asked_for(folder, tmp_path, given, said):
    assert call("sheets", folder, tmp_path, "--only", "packet", "--today", TODAY, *given).exit_code == 0
    assert said in text((tmp_path / "events/fog-walk/packet.pdf").read_bytes())


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (["--only", "poster"], "Write one of lid"),
        (["--paper", "A5"], "Write A4 or letter"),
        (["--address", "kits"], "Write it like http"),
        (["--today", "soon"], "is not a date"),
    ],
)
def test_a_wrong_choice_is_said_plainly(folder, tmp_path, given, says):
    result = call("sheets", folder, tmp_path / "out", *given)
    assert result.exit_code == 2
    assert says in result.output
    assert not (tmp_path / "out").exists()


def test_problems_in_the_files_are_printed_and_nothing_is_written(folder, tmp_path):
    (folder / "kits.csv").write_text("member,kit,hours\nQ1ABC,go bag,many\n", "utf-8")
    result = call("sheets", folder, tmp_path / "out")
    assert result.exit_code == 1
    assert "many" in result.output and not (tmp_path / "out").exists()


def test_a_place_that_cannot_be_written_is_said_plainly(folder, tmp_path):
    (tmp_path / "out").write_text("a file", "utf-8")
    result = call("sheets", folder, tmp_path / "out", "--only", "season")
    assert result.exit_code == 2 and "Name a folder" in result.output
    result = call("calendar", folder, tmp_path / "none" / "x.ics")
    assert result.exit_code == 2 and "Name a file" in result.output


def test_the_calendar_command_writes_a_file_that_reads_back(folder, tmp_path):
    result = call("calendar", folder, tmp_path / "club.ics", "--member", "q1abc", "--today", TODAY)
    assert result.exit_code == 0, result.output
    found = read_back((tmp_path / "club.ics").read_bytes())
    assert f"{len(found)} entries written" in result.output
    assert call("calendar", folder, tmp_path / "x.ics", "--member", "Q9XYZ").exit_code == 2


def test_names_that_look_alike_get_files_of_their_own():
    taken: set[str] = set()
    assert [sheet_commands._apart("a/b.pdf", taken) for _ in range(3)] == [
        "a/b.pdf",
        "a/b-2.pdf",
        "a/b-3.pdf",
    ]
    assert file_name("../..", "<x>") == "x"
    assert file_name("無") == "unnamed"
