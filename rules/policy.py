"""The club's policy: everything that a club may set otherwise than it is shipped.

rules/policy.toml is the standard one, and says what each setting is; a policy of a club's own names only what it changes.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit

from data import reference

if TYPE_CHECKING:
    from rules.rule import Param

STANDARD = Path(__file__).parent / "policy.toml"
ALIASED = ("kind", "plug", "coax", "chemistry", "band", "mode", "duty", "post_type")
LARGEST = 1e9  # no figure of a policy is larger, nor one that is none (nan)
SHOWN = 20  # problems in the text of an error; it holds them all
SHARES = ("tx_share", "rx_share", "idle_share")
WITHIN = {  # least and most of each setting of the facts that is a figure
    "converter_share": (0.1, 1), "converter_volts_min": (1, 60), "vehicle_v": (6, 60), "vehicle_socket_a": (1, 60),
    "contact_ohm": (0, 1), "fuse_ohm": (0, 1), "lead_ohm": (0, 10), "home_h": (0, 48), "rest_h": (0, 24),
    "ladder_years": (0.5, 50), "kit_hours": (0.1, 240), "handheld_hours": (0.1, 240), "untested_after_years": (0, 50),
    "age_factor": (0.05, 1), "assumed_temperature_c": (-20, 50), "cold_day_c": (-20, 20), "warm_day_c": (20, 50),
    "lead_temperature_c": (-40, 150), "sun_share": (0, 1), "dull_share": (0, 1), "bright_share": (0, 1),
    "accessory_w": (0, 5000), "range_share": (0, 0.95), "gauge_share": (0, 0.5), "least_stations": (1, 50),
    "empty_after_intervals": (1, 20), "day_load_kg": (0.5, 50), "overnight_load_kg": (0.5, 50),
    "talk_period_min": (0.1, 60), "near_limit_share": (0.1, 1), "near_limit_c": (0, 20), "short_walk_km": (0, 50),
    "hard_cold_c": (-40, 30), "hard_heat_c": (0, 60), "least_dark_h": (0, 12), "mppt_share": (0.1, 1),
    "pwm_share": (0.1, 1), "regulated_v": (12.5, 60), "twilight_deg": (-18, 0), "night_until_h": (0, 12),
    "worst_tx_share": (0, 1), "antenna_above_mast_m": (0, 20), "fuse_margin": (1, 4), "aged_resistance": (1, 4),
    "cold_doubles_k": (15, 60),
}  # fmt: skip
Form = (
    tuple[float, float] | frozenset[str] | None
)  # least and most of a figure, whole where the least is; words; or yes and no
OF_REFERENCE: Mapping[str, Mapping[str, Form]] = {
    "chemistry": {
        "usable_share": (0.05, 1.0), "charge_days": (1.0, 3650.0), "flag_years": (0.1, 50.0), "life_years": (0.1, 50.0),
        "month_loss_share": (0.0, 1.0), "peukert": (1.0, 2.0), "cell_ohm_ah": (0.0, 10.0),
        "given_back_share": (0.0, 1.0), "charge_per_h": (0.0, 10.0), "charge_min_c": (-40.0, 40.0), "charge_max_c": (0.0, 80.0),
    },
    "post_type": {
        "operators": (1, 100), "radios": (0, 100), "rf_watts_min": (0.0, 2000.0), "duty": frozenset(reference.words("duty")),
        "is_critical": None, "needs_two_ways": None, "is_on_foot": None, "is_off_the_road": None,
        "rf_grade": frozenset(("good", "marginal", "poor")), "role_needed": frozenset(reference.table("post_types")["role_needed"]),
    },
    "mode": {"duty_factor": (0.01, 1.0)},
}  # fmt: skip
"""What a club may see otherwise in each row of a reference table, by table and column."""
IN_ORDER = {
    "facts": (("dull_share", "sun_share"), ("sun_share", "bright_share")),
    "chemistry": (("charge_min_c", "charge_max_c"), ("flag_years", "life_years")),
}
"""Of settings and of each chemistry: pairs of figures of which the first is no more than the second."""
OF_TABLES = ("rules", "duty", "aliases", *OF_REFERENCE)
PARTS = ("weight", "facts", *OF_TABLES)
RULES_LISTED = (
    "Write the name of a rule: kitmuster rules lists them; "
    "the page “what is looked at, and why?” sets a rule without its name."
)


class PolicyError(ValueError):
    """A policy that cannot be used: every problem, each with where, what is wrong and what to write; the text holds the first."""

    def __init__(self, *problems: str) -> None:
        self.problems = problems
        more = [f"And {len(problems) - SHOWN} more."] if len(problems) > SHOWN else []
        super().__init__("\n".join([*problems[:SHOWN], *more]))


@dataclass(frozen=True)
class Policy:
    """What a club has set, the rest as it is shipped.

    Attributes
    ----------
    weight : of the score, by severity
    facts : settings of the facts, by name
    rules : parameters that differ, by rule and name
    duty : shares of the time on transmit, receive and idle, by profile
    aliases : the members' own words, by column: what they write, and the word that it stands for
    own_rules : folder of the club's own rules
    allow : rules that the club does not look at
    reference : what differs in reference tables (batteries, posts, modes), by table, word and column of OF_REFERENCE
    """

    weight: Mapping[str, float]
    facts: Mapping[str, Any]
    rules: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    duty: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    aliases: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    own_rules: Path | None = None
    allow: tuple[str, ...] = ()
    reference: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(default_factory=dict)

    @classmethod
    def standard(cls) -> Policy:
        """The policy that the project ships."""
        told = _standard()
        return cls(told["weight"], told["facts"])

    @classmethod
    def read(cls, path: Path) -> Policy:
        """Read a policy file; what it leaves out stands as in the standard policy.

        Raises
        ------
        PolicyError
            As `parse` says, or the file cannot be read.
        """
        try:
            text = path.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise PolicyError(f"{path.name}: cannot be read as text: {error}.") from error
        return cls.parse(text, path.name, path.parent)

    @classmethod
    def parse(cls, text: str, name: str = "policy.toml", beside: Path | None = None) -> Policy:
        """Read a policy from its text; a folder of own rules is taken beside `beside`.

        Raises
        ------
        PolicyError
            The text is not TOML, names something that does not exist, or gives a value of the wrong kind. All that is
            wrong is said at once, beside it what `check` would say of our own rules.
        """
        try:
            told = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise PolicyError(f"{name}: not TOML: {error}. Mend that line.") from error
        except (
            RecursionError,
            ValueError,
        ) as error:  # brackets within brackets, figures of thousands of digits
            raise PolicyError(
                f"{name}: not a policy. Write lines like those of the standard policy."
            ) from error
        if problems := [*_wrong(name, told)]:
            raise PolicyError(*problems, *_against_our_rules(told))
        base, folder = _standard(), told.get("own_rules")
        return cls(
            {**base["weight"], **told.get("weight", {})},
            {**base["facts"], **told.get("facts", {})},
            told.get("rules", {}),
            told.get("duty", {}),
            told.get("aliases", {}),
            (beside or Path()) / folder if folder else None,
            tuple(dict.fromkeys(told.get("allow", []))),
            {table: told[table] for table in OF_REFERENCE if table in told},
        )

    def value(self, rule: str, name: str, default: Any) -> Any:
        """The value of a rule's parameter: the club's own, else the rule's."""
        return self.rules.get(rule, {}).get(name, default)

    def check(self, params: Mapping[str, Mapping[str, Param]], duties: Iterable[str]) -> None:
        """Hold the policy to the parameters of the rules, by rule, and to the duty profiles that exist.

        Raises
        ------
        PolicyError
            A rule, parameter or profile does not exist, or a value is of the wrong kind.
        """
        if problems := [*_against(self.rules, self.duty, self.allow, params, duties)]:
            raise PolicyError(*problems)


def with_rule(text: str, rule: str, changed: Mapping[str, Any], standard: Mapping[str, Any]) -> str:
    """The text of a policy with other parameters of a rule; everything else in it, comments too, stays.

    Parameters
    ----------
    changed : value by parameter; one that is the rule's own is taken out of the policy
    standard : the rule's own value by parameter

    Raises
    ------
    PolicyError
        The text is not TOML.
    """
    told = _document(text)
    given = {**told.get("rules", {}).get(rule, {}), **changed}
    other = {name: value for name, value in given.items() if value != standard.get(name)}
    rules = told.setdefault("rules", tomlkit.table(is_super_table=True))
    rules.pop(rule, None)
    if other:
        rules[rule] = other
    elif not rules:
        told.pop("rules")
    return tomlkit.dumps(told)


def with_allowed(text: str, rule: str, is_allowed: bool) -> str:
    """The text of a policy that does or does not look at a rule; everything else in it, comments too, stays.

    Raises
    ------
    PolicyError
        The text is not TOML.
    """
    told = _document(text)
    names = [name for name in told.pop("allow", []) if name != rule] + [rule] * is_allowed
    written = tomlkit.dumps(told)
    return tomlkit.dumps({"allow": names}) + written if names else written


def _document(text: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except tomlkit.exceptions.ParseError as error:
        raise PolicyError(f"policy: not TOML: {error}. Mend that line.") from error


@cache
def _standard() -> dict[str, Any]:
    return tomllib.loads(STANDARD.read_text("utf-8"))


def _wrong(file: str, told: Mapping[str, Any]) -> Iterator[str]:
    """What is wrong with a policy whatever the rules are."""
    yield from _unknown(file, "policy", told, (*PARTS, "own_rules", "allow"))
    for part in PARTS:
        yield from _no_table(file, part, told.get(part, {}))
    for part in OF_TABLES:
        for key, value in _table(told, part).items():
            yield from _no_table(file, f"{part}.{key}", value)
    for part, standard in _standard().items():
        given = _table(told, part)
        yield from _unknown(file, part, given, standard)
        for key in _both(given, standard):
            where = f"{part}.{key}"
            if isinstance(standard[key], str) and isinstance(given[key], str):
                yield from _unknown(file, where, (given[key],), reference.words("duty"))
            else:
                yield from _no_figure(file, where, given[key], standard[key], WITHIN.get(key, (0, LARGEST)))
    if {**_standard()["weight"], **_table(told, "weight")} == dict.fromkeys(_standard()["weight"], 0):
        yield f"{file}, weight: nothing counts. Write more than 0 for one of {', '.join(_standard()['weight'])}."
    for profile, shares in _tables(told, "duty"):
        yield from _no_shares(file, f"duty.{profile}", shares)
    for table, forms in OF_REFERENCE.items():
        yield from _unknown(file, table, _table(told, table), reference.words(table))
        for word, values in _tables(told, table):
            where = f"{table}.{word}"
            yield from _unknown(file, where, values, forms)
            for key in _both(values, forms):
                yield from _no_value(file, f"{where}.{key}", values[key], forms[key])
    yield from _out_of_order(file, "facts", _standard()["facts"] | _table(told, "facts"))
    usual = reference.table("chemistries").set_index("chemistry")
    for word, values in _tables(told, "chemistry"):
        if word in usual.index:
            yield from _out_of_order(file, f"chemistry.{word}", {**usual.loc[word], **values})
    yield from _unknown(file, "aliases", _table(told, "aliases"), ALIASED)
    for column, writings in _tables(told, "aliases"):
        for writing, word in writings.items():
            where = f"aliases.{column}.{writing}"
            if not isinstance(word, str):
                yield from _unlike(file, where, word, "word")
            elif column in ALIASED:
                yield from _unknown(file, where, (word,), reference.words(column))
    folder = told.get("own_rules")
    if folder is not None and (
        not isinstance(folder, str)
        or "\0" in folder
        or Path(folder).is_absolute()
        or ".." in Path(folder).parts
    ):
        yield f"{file}, own_rules: {_shown(folder)} is not a folder beside the policy. Write its name, for example our_rules."
    allowed = told.get("allow", [])
    if not isinstance(allowed, list) or not all(isinstance(rule, str) for rule in allowed):
        yield (
            f"{file}, allow: {_shown(allowed)} is no list of rules. "
            'Write their names, for example allow = ["no_second_radio"].'
        )


def _against_our_rules(told: Mapping[str, Any]) -> Iterator[str]:
    """As `_against`, for a policy that is wrong elsewhere; a name that may be of the club's own rules is let be."""
    from rules.rule import params as of_our_rules

    params = of_our_rules()
    rules, allow = dict(_tables(told, "rules")), told.get("allow")
    allow = [rule for rule in allow if isinstance(rule, str)] if isinstance(allow, list) else []
    if "own_rules" in told:
        rules, allow = {rule: rules[rule] for rule in _both(rules, params)}, _both(allow, params)
    yield from _against(rules, _table(told, "duty"), allow, params, reference.words("duty"))


def _against(
    rules: Mapping[str, Mapping[str, Any]],
    duty: Iterable[str],
    allow: Iterable[str],
    params: Mapping[str, Mapping[str, Param]],
    duties: Iterable[str],
) -> Iterator[str]:
    """What of a policy names no rule, parameter or duty profile, or gives a parameter what it cannot be."""
    from rules.rule import NO_DAY, is_day_or_none, load_rules

    shared = {rule.name: rule.shared for rule in load_rules()}
    yield from _unknown("policy", "rules", rules, params, RULES_LISTED)
    yield from _unknown("policy", "duty", duty, duties)
    yield from _unknown("policy", "allow", allow, params, RULES_LISTED)
    for rule in _both(rules, params):
        given, standard = rules[rule], params[rule]
        elsewhere = shared.get(rule, {})
        yield from _unknown(
            "policy", f"rules.{rule}", (name for name in given if name not in elsewhere), standard
        )
        for name in _both(given, elsewhere):
            of = elsewhere[name]
            yield f'policy, rules.{rule}: "{name}" is one figure for this rule and {of}. Write it below [rules.{of}].'
        for name in _both(given, standard):
            where = f"rules.{rule}.{name}"
            usual = standard[name].value
            if standard[name].is_day:
                if not is_day_or_none(given[name]):
                    yield f"policy, {where}: {_shown(given[name])} {NO_DAY}"
                continue
            if not isinstance(usual, str):
                yield from _no_figure("policy", where, given[name], usual, standard[name].within(name))
                continue
            wrong = [*_unlike("policy", where, given[name], usual)]
            if name == "club_family" and not wrong:
                families = reference.table("connectors")["family"]
                wrong = [*_unknown("policy", where, (given[name],), set(families) - {"builtin"})]
            yield from wrong


def _out_of_order(file: str, where: str, values: Mapping[str, Any]) -> Iterator[str]:
    for low, high in IN_ORDER[where.partition(".")[0]]:
        least, most = values.get(low), values.get(high)
        if isinstance(least, int | float) and isinstance(most, int | float) and least > most:
            yield f"{file}, {where}.{low}: {least:g} is more than {high}, {most:g}. Write no more than that, or more there."


def _no_shares(file: str, where: str, shares: Mapping[str, Any]) -> Iterator[str]:
    yield from _unknown(file, where, shares, SHARES)
    wrong = [
        problem
        for key in _both(shares, SHARES)
        for problem in _no_figure(file, f"{where}.{key}", shares[key], 0.5, (0, 1))
    ]
    yield from wrong
    if not wrong and (not set(SHARES) <= shares.keys() or abs(sum(shares[key] for key in SHARES) - 1) > 1e-6):
        yield f"{file}, {where}: the shares do not make a whole. Write tx_share, rx_share and idle_share that add up to 1."


def _both(given: Iterable[str], known: Container[str]) -> list[str]:
    """What of the given words is known, in their order."""
    return [word for word in given if word in known]


def _table(told: Mapping[str, Any], part: str) -> Mapping[str, Any]:
    """A part of a policy, empty where it is no table."""
    value = told.get(part)
    return value if isinstance(value, dict) else {}


def _tables(told: Mapping[str, Any], part: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The tables of a part by name; what is no table is left out."""
    yield from ((key, value) for key, value in _table(told, part).items() if isinstance(value, dict))


def _unknown(
    file: str, where: str, given: Iterable[str], allowed: Iterable[str], listed: str = ""
) -> Iterator[str]:
    """What is not known, with the nearest word, else with all of them or what says where they are `listed`."""
    words = sorted(allowed)
    for word in given:
        if word not in words:
            begun = [known for known in words if f"{word}_".startswith(f"{known}_")]
            near = begun[-1:] or difflib.get_close_matches(word[:80], words, 1)
            any_of = "one of " * (len(words) > 1)
            write = listed or (
                f"Write {any_of}{', '.join(words)}." if words else "Leave it out: there is nothing to set."
            )
            advice = f"Did you mean {near[0]}?" if near else write
            yield f'{file}, {where}: "{word[:80]}" is not known. {advice}'


def _no_table(file: str, where: str, value: Any) -> Iterator[str]:
    if not isinstance(value, dict):
        yield f"{file}, {where}: {_shown(value)} is no table. Write [{where}] and lines below it."


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:80]}…"


def _unlike(file: str, where: str, value: Any, standard: Any) -> Iterator[str]:
    is_number = isinstance(standard, int | float) and not isinstance(standard, bool)
    fits = (
        isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST
        if is_number
        else isinstance(value, type(standard))
    )
    if not fits:
        yield f"{file}, {where}: {_shown(value)} does not fit. Write a value like {standard!r}."


def _no_value(file: str, where: str, value: Any, form: Form) -> Iterator[str]:
    if form is None:
        yield from _unlike(file, where, value, True)
    elif isinstance(form, frozenset):
        wrong = [*_unlike(file, where, value, min(form))]
        yield from wrong or _unknown(file, where, (value,), form)
    elif isinstance(form[0], int) and not isinstance(value, int):
        yield f"{file}, {where}: {_shown(value)} does not fit. Write a whole number, for example 2."
    else:
        yield from _no_figure(file, where, value, 0.5, form)


def _no_figure(
    file: str, where: str, value: Any, standard: Any, within: tuple[float, float]
) -> Iterator[str]:
    least, most = within
    if wrong := [*_unlike(file, where, value, standard)]:
        yield from wrong
    elif not least <= value <= most:
        wanted = f"{least:g} or more" if most == LARGEST else f"at least {least:g} and at most {most:g}"
        yield f"{file}, {where}: {value:g} is out of range. Write {wanted}."
