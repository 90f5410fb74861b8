"""The club's policy: weights of the score and its own values for the parameters of the rules."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

STANDARD = Path(__file__).parent / "policy.toml"


class PolicyError(ValueError):
    """A policy file that cannot be used; the message says where and what to write."""


@dataclass(frozen=True)
class Policy:
    """Weights by severity, settings of the facts, and parameter values by rule."""

    weight: Mapping[str, float]
    facts: Mapping[str, float | str]
    rules: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    @classmethod
    def standard(cls) -> Policy:
        """The policy that the project ships."""
        return cls.read(STANDARD)

    @classmethod
    def read(cls, path: Path) -> Policy:
        """Read a policy; what the file leaves out stands as in the standard policy.

        Raises
        ------
        PolicyError
            The file is not TOML, or names something that the standard policy and the rules do not have.
        """
        try:
            told = tomllib.loads(path.read_text("utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise PolicyError(f"{path.name}: not TOML: {error}.") from error
        base = tomllib.loads(STANDARD.read_text("utf-8"))
        for part, given in told.items():
            if part not in ("weight", "facts", "rules"):
                raise PolicyError(
                    f'{path.name}: "{part}" is not a part of a policy. Write weight, facts or rules.'
                )
            if part != "rules":
                for name, value in given.items():
                    if name not in base[part]:
                        known = ", ".join(base[part])
                        raise PolicyError(
                            f'{path.name}, {part}: "{name}" is not known. Write one of {known}.'
                        )
                    if type(value) is str and type(base[part][name]) is not str or isinstance(value, bool):
                        raise PolicyError(
                            f"{path.name}, {part}.{name}: {value!r} is not a number. Write a number."
                        )
        return cls(
            {**base["weight"], **told.get("weight", {})},
            {**base["facts"], **told.get("facts", {})},
            told.get("rules", {}),
        )

    def value(self, rule: str, name: str, default: Any) -> Any:
        """The value of a rule's parameter: the club's own, else the rule's."""
        return self.rules.get(rule, {}).get(name, default)
