"""The policy is stored with who and why, previewed before it is saved, and judged by from then on."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import standing
from dashboard.access import Role
from dashboard.parts import plain
from data import demo, upload
from data.store import Store
from rules.policy import PolicyError
from rules.rule import RuleError
from tests.pages import alone, page, table, unfolded

pytestmark = pytest.mark.usefixtures("judged_once")

EASY = "[rules.no_second_radio]\nleast = 1\n"


@pytest.fixture
def club(tmp_path: Path) -> Iterator[standing.Club]:
    opened = standing.open_club(tmp_path / "club.duckdb")
    for path in demo.write(tmp_path / "demo"):
        opened.store.accept(upload.read(path.name, path.read_bytes()), "demo")
    yield opened
    standing.close_club()


def gaps(club: standing.Club) -> int:
    tally = club.standing().tally.set_index("rule")
    return int(tally.loc["no_second_radio", "not_met"])


def test_a_policy_in_force_judges_and_is_remembered(club: standing.Club) -> None:
    assert gaps(club) > 0
    club.set_policy(EASY, "coordinator", "handheld posts only this year")
    assert gaps(club) == 0
    history = club.store.policies()
    assert history[["by", "why", "text"]].values.tolist() == [
        ["coordinator", "handheld posts only this year", EASY]
    ]
    assert club.store.changes_log().iloc[0]["what"] == "policy changed"


def test_a_preview_changes_nothing(club: standing.Club) -> None:
    before = gaps(club)
    assert int(club.preview(EASY).tally.set_index("rule").loc["no_second_radio", "not_met"]) == 0
    assert gaps(club) == before
    assert club.store.policies().empty


def test_a_wrong_policy_is_not_saved(club: standing.Club) -> None:
    with pytest.raises(PolicyError, match="least"):
        club.set_policy(EASY.replace("least", "lest"), "coordinator", "a slip")
    with pytest.raises(ValueError, match="why"):
        club.set_policy(EASY, "coordinator", " ")
    with pytest.raises(PolicyError, match="beside the policy"):
        club.set_policy('own_rules = "../elsewhere"\n', "coordinator", "reach out")
    assert club.store.policies().empty


def test_the_store_keeps_its_policy(tmp_path: Path) -> None:
    store = Store(tmp_path / "a.duckdb")
    store.set_policy(EASY, "coordinator", "why not")
    store.close()
    again = Store(tmp_path / "a.duckdb")
    assert again.policy() == EASY
    again.close()


def test_the_page_previews_then_saves(club: standing.Club) -> None:
    app = page("policy")
    assert all(
        f"({table})" in app.markdown[0].value
        for table in ("weight", "facts", "duty", "chemistry", "post_type", "mode")
    )
    slips = "[rules.no_second_radios]\nleast = 1\n[weight]\nblocs = 9\n"
    app.text_area(key="policy-text").set_value(slips).run()
    app.button(key="policy-look").click().run()
    assert "2 problems" in app.error[0].value and app.error[0].value.count("Did you mean") == 2
    app.text_area(key="policy-text").set_value(EASY).run()
    app.button(key="policy-look").click().run()
    assert any("would change" in text.value for text in app.markdown)
    assert any(re.match(r"The club as a whole scores \d+.* now, and", text.value) for text in app.text)
    app.text_input(key="policy-why").set_value("short season").run()
    app.button(key="policy-save").click().run()
    assert not app.exception
    assert club.store.policy() == EASY
    assert any("The policy is in force" in done.value for done in app.success)
    assert "an empty text goes back to the standard policy" in app.markdown[0].value
    app.text_area(key="policy-text").set_value("").run()
    app.button(key="policy-look").click().run()
    app.text_input(key="policy-why").set_value("all are back").run()
    app.button(key="policy-save").click().run()
    assert not app.exception and club.store.policy() == ""
    assert gaps(club) > 0


def test_a_policy_that_an_update_no_longer_takes_is_mended_on_its_page(club: standing.Club) -> None:
    club.store.set_policy("[rules.pool_too_small]\nposts_each = 0\n", "coordinator", "as it was taken once")
    with pytest.raises(PolicyError, match="posts_each: 0 is out of range"):
        club.standing()
    app = page("policy")
    app.text_area(key="policy-text").set_value(EASY).run()
    app.button(key="policy-look").click().run()
    assert any("the policy in force can no longer be used" in text.value for text in app.text)
    app.text_input(key="policy-why").set_value("mended").run()
    app.button(key="policy-save").click().run()
    assert not app.exception and club.store.policy() == EASY
    assert gaps(club) == 0


def test_the_page_shows_what_counts_now_by_name_and_as_a_policy_writes_it(club: standing.Club) -> None:
    club.set_policy("[post_type.sag]\noperators = 2\n", "coordinator", "a driver for each")
    app = page("policy")
    assert not any("mode" in shown.value for shown in app.table), "made only for who opens it"
    unfolded(app)
    posts, batteries, modes = (
        table(app, name).set_index(name).iloc[:, 0] for name in ("post type", "chemistry", "mode")
    )
    sag = next(word for word in posts.index if "\\(sag\\)" in word)
    assert (
        posts[sag].startswith(plain("operators = 2, radios = 1"))
        and plain("is_critical = false") in posts[sag]
    )
    assert plain('duty = "net_control"') in posts[plain("net control (net_control)")]
    assert plain("usable_share = 0.5, charge_days = 90") in batteries[plain("sealed lead-acid, AGM (agm)")]
    assert "charge_days" not in batteries[plain("alkaline, not rechargeable (alkaline)")].replace("\\", "")
    assert modes[plain("FM voice (fm)")] == plain("duty_factor = 1")


def decide(rule: str) -> AppTest:
    """The page of a rule, from which a decision leads to the page of the policy."""
    return page("rulebook", rule=rule)


def test_a_rule_is_eased_from_its_own_page(club: standing.Club) -> None:
    app = decide("no_second_radio")
    app.number_input(key="param-no_second_radio-least").set_value(1.0)
    next(b for b in app.button if b.label == "See what this would change").click().run()
    assert app.title[0].value == "What has the club decided?"
    assert app.text_area(key="policy-text").value == EASY
    assert any("would change" in text.value for text in app.markdown)
    assert club.store.policy() == ""


def test_a_day_is_set_on_the_page_of_its_rule_and_taken_back(club: standing.Club) -> None:
    app = decide("channels_not_loaded")
    told = next(frame.value for frame in app.table if "compares with" in frame.value.columns)
    assert dict(zip(told["compares with"], told["value"], strict=True))["plan from"] == "none set"
    app.date_input(key="param-channels_not_loaded-plan_from").set_value(date(2026, 3, 1))
    next(b for b in app.button if b.label == "See what this would change").click().run()
    written = '[rules.channels_not_loaded]\nplan_from = "2026-03-01"\n'
    assert app.text_area(key="policy-text").value == written
    assert any("would change" in text.value for text in app.markdown)
    club.set_policy(written, "coordinator", "the new plan")
    app = decide("channels_not_loaded")
    assert app.date_input(key="param-channels_not_loaded-plan_from").value == date(2026, 3, 1)
    app.date_input(key="param-channels_not_loaded-plan_from").set_value(None)
    next(b for b in app.button if b.label == "See what this would change").click().run()
    assert app.text_area(key="policy-text").value == ""


def test_a_figure_of_two_rules_is_shown_at_both_and_set_at_one(club: standing.Club) -> None:
    club.set_policy("[rules.too_close_to_the_public]\narm_m = 0.7\n", "coordinator", "longer arms")
    owner, other = "too_close_to_the_public", "little_room_from_the_antenna"
    app = decide(other)
    told = next(frame.value for frame in app.table if "compares with" in frame.value.columns)
    assert told.loc[told["unit"] == "m", "value"].tolist() == [r"0\.7"]
    assert any("is set at **Antenna too close to the public**" in text.value for text in app.markdown)
    assert [link.proto.query_string for link in app.get("page_link")] == [f"rule={owner}"]
    assert not any("arm_m" in field.key for field in app.number_input)
    app = decide(owner)
    assert any("is changed for both" in text.value for text in app.markdown) and not app.get("page_link")
    assert app.number_input(key=f"param-{owner}-arm_m").value == 0.7
    club.set_policy(f'allow = ["{owner}"]\n', "coordinator", "nobody comes near")
    app = decide(other)
    assert any(f"[rules.{owner}]" in text.value for text in app.text) and not app.get("page_link")


def test_a_rule_is_not_looked_at_and_looked_at_again(club: standing.Club) -> None:
    app = decide("no_second_radio")
    app.button(key="allow-no_second_radio").click().run()
    assert any("would change" in text.value for text in app.markdown)
    club.set_policy(app.text_area(key="policy-text").value, "coordinator", "a season of fixed posts")
    assert "no_second_radio" not in set(club.standing().tally["rule"])
    app = decide("no_spare_fuse")
    assert any("No second radio" in text.value for text in app.markdown)
    app.button(key="look-at-no_second_radio").click().run()
    assert app.text_area(key="policy-text").value == ""


def test_a_rule_that_an_upload_makes_useless_is_set_aside_on_every_page_until_it_is_mended(
    tmp_path: Path,
) -> None:
    """Who may change the policy reads why; any other part of it can be changed meanwhile, and no other such rule is let in."""
    head = (
        '/*\ntitle = "Odd"\nsubject = "kit"\nseverity = "blocks"\nwhy = "w"\nnot_met = "{subject}: odd."\n'
        'fix = "f"\nsource = "common practice"\n*/\n'
    )
    once, twice = (f"select kit_id as subject, false as ok from {table}" for table in ("kit", "item"))
    ours = tmp_path / "ours" / "packing"
    ours.mkdir(parents=True)
    (ours / "odd.sql").write_text(head + twice, "utf-8")
    with alone():
        club = standing.open_club(tmp_path / "club.duckdb", has_sign_in=True)
        for role in (Role.COORDINATOR, Role.VIEWER):
            club.people.add(f"{role}@club.example", role.title(), role, "", "test")
        club.accept(upload.read("inventory.csv", b"member,kit,item,kind\nQ1A,bag,radio,handheld\n"), "test")
        club.set_policy('own_rules = "ours"', "test", "ours")
        assert club.set_aside == () and {f.rule for f in club.standing().findings("severity_no = 0", [])} >= {
            "odd"
        }
        more = b"member,kit,item,kind\nQ1A,bag,radio,handheld\nQ1A,bag,pack,handheld_pack\n"
        club.accept(upload.read("inventory.csv", more), "test")
        assert "odd" not in {f.rule for f in club.standing().findings("severity_no = 0", [])}
        for role, says in (
            (
                Role.COORDINATOR,
                "odd: this rule of the club's own answers more than once for the same kit. Let its select",
            ),
            (
                Role.VIEWER,
                "odd: this rule of the club's own is out of force until it is mended; all else is judged.",
            ),
        ):
            at = datetime.now(UTC) - timedelta(seconds=1)
            user = {
                "is_logged_in": True,
                "email": f"{role}@club.example",
                "email_verified": True,
                "iat": int(at.timestamp()),
            }
            (told,) = page("rulebook", user=user).warning
            assert told.value.startswith(plain(says)) and ("allow" in told.value) == (
                role is Role.COORDINATOR
            )
        club.set_policy('own_rules = "ours"\n[weight]\nadvice = 3\n', "test", "meanwhile")
        (ours / "other.sql").write_text(head + twice, "utf-8")
        with pytest.raises(RuleError, match="other: "):
            club.preview('own_rules = "ours"')
        (ours / "other.sql").unlink()
        (ours / "odd.sql").write_text(head + once, "utf-8")
        club.set_policy('own_rules = "ours"', "test", "mended")
        assert club.set_aside == ()
