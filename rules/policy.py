"""The club's policy: weights of the score, settings of the facts, duty profiles, batteries, rule parameters, rules not looked at, own rules."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import tomlkit

from data import reference

STANDARD = Path(__file__).parent / "policy.toml"
ALIASED = ("kind", "plug", "coax", "chemistry", "band", "mode", "duty", "post_type")
LARGEST = 1e9  # no figure of a policy is larger, nor one that is none (nan)
SHARES = ("tx_share", "rx_share", "idle_share")
WITHIN = {  # least and most of each setting of the facts that is a figure
    "converter_share": (0.1, 1), "converter_volts_min": (1, 60), "contact_ohm": (0, 1), "fuse_ohm": (0, 1), "lead_ohm": (0, 10),
    "kit_hours": (0.1, 240), "handheld_hours": (0.1, 240), "untested_after_years": (0, 50), "age_factor": (0.05, 1),
    "assumed_temperature_c": (-20, 50), "lead_temperature_c": (-40, 150), "sun_share": (0, 1), "accessory_w": (0, 5000),
    "range_share": (0, 0.95), "empty_after_intervals": (1, 20), "day_load_kg": (0.5, 50), "overnight_load_kg": (0.5, 50), "talk_period_min": (0.1, 60),
    "worst_tx_share": (0, 1), "antenna_above_mast_m": (0, 20), "fuse_margin": (1, 4),
}  # fmt: skip
OF_CHEMISTRY = {  # least and most of what a club may say of a chemistry
    "usable_share": (0.05, 1), "charge_days": (1, 3650), "flag_years": (0.1, 50), "life_years": (0.1, 50),
}  # fmt: skip


class PolicyError(ValueError):
    """A policy that cannot be used; the message says where and what to write."""


@dataclass(frozen=True)
class Policy:
    """Weights by severity, settings of the facts, duty shares by profile, parameters by rule, folder of own rules.

    `chemistry` holds the columns of OF_CHEMISTRY that the club sees otherwise, by chemistry.

    `allow` names the rules that the club does not look at.
    """

    weight: Mapping[str, float]
    facts: Mapping[str, Any]
    rules: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    duty: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    aliases: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    own_rules: Path | None = None
    allow: tuple[str, ...] = ()
    chemistry: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

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
            The text is not TOML, names something that does not exist, or gives a value of the wrong kind.
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
        base = _standard()
        parts = ("weight", "facts", "rules", "duty", "aliases", "chemistry")
        _known(name, "policy", told, (*parts, "own_rules", "allow"))
        for part in parts:
            _table(name, part, told.get(part, {}))
        for part in ("rules", "duty", "aliases", "chemistry"):
            for key, value in told.get(part, {}).items():
                _table(name, f"{part}.{key}", value)
        for part in ("weight", "facts"):
            _known(name, part, told.get(part, {}), base[part])
            for key, value in told.get(part, {}).items():
                _same_kind(name, f"{part}.{key}", value, base[part][key])
                if isinstance(value, str):
                    _known(name, f"{part}.{key}", (value,), reference.words("duty"))
                else:
                    _within(name, f"{part}.{key}", value, *WITHIN.get(key, (0, LARGEST)))
        for profile, shares in told.get("duty", {}).items():
            _known(name, f"duty.{profile}", shares, SHARES)
            for key, value in shares.items():
                _same_kind(name, f"duty.{profile}.{key}", value, 0.5)
                _within(name, f"duty.{profile}.{key}", value, 0, 1)
            if set(shares) != set(SHARES) or abs(sum(shares.values()) - 1) > 1e-6:
                raise PolicyError(
                    f"{name}, duty.{profile}: the shares do not make a whole. Write tx_share, rx_share and idle_share that add up to 1."
                )
        _known(name, "chemistry", told.get("chemistry", {}), reference.words("chemistry"))
        for chemistry, figures in told.get("chemistry", {}).items():
            _known(name, f"chemistry.{chemistry}", figures, OF_CHEMISTRY)
            for key, value in figures.items():
                _same_kind(name, f"chemistry.{chemistry}.{key}", value, 0.5)
                _within(name, f"chemistry.{chemistry}.{key}", value, *OF_CHEMISTRY[key])
        for column, writings in told.get("aliases", {}).items():
            _known(name, "aliases", (column,), ALIASED)
            for writing, word in writings.items():
                _same_kind(name, f"aliases.{column}.{writing}", word, "word")
            _known(name, f"aliases.{column}", writings.values(), reference.words(column))
        folder = told.get("own_rules")
        if folder is not None and (
            not isinstance(folder, str)
            or "\0" in folder
            or Path(folder).is_absolute()
            or ".." in Path(folder).parts
        ):
            raise PolicyError(
                f"{name}, own_rules: {folder!r} is not a folder beside the policy. Write its name, for example our_rules."
            )
        allowed = told.get("allow", [])
        if not isinstance(allowed, list) or not all(isinstance(rule, str) for rule in allowed):
            raise PolicyError(
                f"{name}, allow: {_shown(allowed)} is no list of rules. "
                'Write their names, for example allow = ["no_second_radio"].'
            )
        return cls(
            {**base["weight"], **told.get("weight", {})},
            {**base["facts"], **told.get("facts", {})},
            told.get("rules", {}),
            told.get("duty", {}),
            told.get("aliases", {}),
            (beside or Path()) / folder if folder else None,
            tuple(dict.fromkeys(allowed)),
            told.get("chemistry", {}),
        )

    def value(self, rule: str, name: str, default: Any) -> Any:
        """The value of a rule's parameter: the club's own, else the rule's."""
        return self.rules.get(rule, {}).get(name, default)

    def check(self, params: Mapping[str, Mapping[str, Any]], duties: Iterable[str]) -> None:
        """Hold the policy to the rules (their parameters and standard values) and the duty profiles that exist.

        Raises
        ------
        PolicyError
            A rule, parameter or profile does not exist, or a value is of the wrong kind.
        """
        _known("policy", "rules", self.rules, params)
        _known("policy", "duty", self.duty, duties)
        _known("policy", "allow", self.allow, params)
        for rule, given in self.rules.items():
            _known("policy", f"rules.{rule}", given, params[rule])
            for name, value in given.items():
                _same_kind("policy", f"rules.{rule}.{name}", value, params[rule][name])
                if name == "club_family":
                    families = reference.table("connectors")["family"]
                    _known("policy", f"rules.{rule}.{name}", (value,), set(families) - {"builtin"})


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


def _known(file: str, where: str, given: Iterable[str], allowed: Iterable[str]) -> None:
    words = sorted(allowed)
    for word in given:
        if word not in words:
            near = difflib.get_close_matches(word[:80], words, 1)
            advice = f"Did you mean {near[0]}?" if near else f"Write one of {', '.join(words)}."
            raise PolicyError(f'{file}, {where}: "{word[:80]}" is not known. {advice}')


def _table(file: str, where: str, value: Any) -> None:
    if not isinstance(value, dict):
        raise PolicyError(
            f"{file}, {where}: {_shown(value)} is no table. Write [{where}] and lines below it."
        )


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:80]}…"


def _same_kind(file: str, where: str, value: Any, standard: Any) -> None:
    is_number = isinstance(standard, int | float) and not isinstance(standard, bool)
    fits = (
        isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST
        if is_number
        else isinstance(value, type(standard))
    )
    if not fits:
        raise PolicyError(f"{file}, {where}: {_shown(value)} does not fit. Write a value like {standard!r}.")


def _within(file: str, where: str, value: float, least: float, most: float) -> None:
    if not least <= value <= most:
        raise PolicyError(
            f"{file}, {where}: {value:g} is out of range. Write at least {least:g} and at most {most:g}."
        )
