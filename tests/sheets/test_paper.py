"""What every sheet keeps: paper, pages, units, letters of all sorts, and what never gets through."""

import io

import pytest
from pypdf import PdfReader
from reportlab.lib.pagesizes import A4, letter
from reportlab.platypus import PageBreak

from dashboard import sheet_commands, units
from dashboard.palette import VERDICTS
from dashboard.sheets import asks, columns, dates, event, forms, kit, loan, packing, paper, told
from tests.conftest import RACE
from tests.printed import pages, text, unspaced
from tests.sheets.hostile_club import HOSTILE
from tests.small_club import TODAY


def test_the_code_has_its_quiet_zone_and_every_dark_square():
    code = paper.Code("http://localhost:8501/kit?member=Q1ABC")
    assert [sum(row) for row in code.squares[:4]] == [0, 0, 0, 0]
    assert [bool(sign) for sign in code.squares[4][4:11]] == [
        True
    ] * 7  # the edge of the first finder pattern
    assert len(code.squares) == len(code.squares[0])


def test_an_address_too_long_for_a_code_leads_to_the_page():
    assert told.address(told.BASE, "kit", member="Q1ABC", kit="w" * 600) == f"{told.BASE}/kit"


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


def test_every_page_says_when_it_was_printed_and_which_it_is(assessment):
    said = pages(kit.lid(assessment, "QA1BCD", "Command case A"))
    assert len(said) > 1
    for number, page in enumerate(said, 1):
        assert f"page {number} of {len(said)}" in page
        assert "Printed 2027-03-01" in page


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


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_no_sheet_ends_on_a_page_of_cautions(assessment, size):
    kits = list(assessment.table("kit")[["member", "kit"]].itertuples(index=False, name=None))[::14]
    made = [kit.lid(assessment, *named, size) for named in kits] + [
        kit.inspection(assessment, *named, size) for named in kits
    ]
    made += [packing.packing(assessment, number, size) for number in range(1, 126, 25)]
    for pdf in (*made, event.packet(assessment, RACE, size)):
        assert "Kit Muster Before you act" not in pages(pdf)[-1]


def test_paper_is_in_the_units_that_were_chosen(assessment):
    number, kg = assessment.con.execute(
        "select assignment_id, carried_kg from assignment join post using (post_id) "
        "join post_kit using (post_id, kit_id, member_id) where post = 'Mile 7'"
    ).fetchone()
    metric = text(packing.packing(assessment, number))
    with units.chosen(True):
        pdf = packing.packing(assessment, number)
    said = text(pdf)
    assert "3 to 17 °C" in metric and "37 to 63 °F" in said and "17 °C" not in said
    assert f"to carry {kg:.1f} kg" in metric and f"to carry {kg / 0.45359237:.1f} lb" in said
    assert "0.1 km on foot" in metric and "0.1 mi on foot" in said
    assert "0.3 m, SMA" in metric and "0.3 m (1.0 ft), SMA" in said
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(letter, abs=0.01)


def test_a_shape_stays_with_its_word_and_a_figure_with_its_unit():
    assert "</font>&nbsp;not ready" in paper.status(VERDICTS["not ready"])
    assert paper.words("at 20 Ah, 5 W and 12 things") == "at 20&nbsp;Ah, 5&nbsp;W and 12 things"


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
