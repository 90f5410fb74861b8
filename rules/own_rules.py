"""A club's own rules: read, held to what every rule keeps, and broken off where they take too long."""

from __future__ import annotations

import re
import string
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import duckdb

from data import club, reference
from rules import facts, guard
from rules.policy import Policy
from rules.rule import FAMILIES, Rule, RuleError, is_clubs_own, params, read_rule

MOST_NAMED = 5
LONGEST_S = 60.0  # for all rules of a club's own together
OF_LINES = re.compile(r'(U?(TINYINT|SMALLINT|INTEGER|BIGINT|HUGEINT)|"NULL")\[\]')
"""What the database calls a list of whole numbers, or one of nothing."""
TOLD = {
    "inventory": "item", "members": "member", "kits": "kit", "rehearsals": "rehearsal", "events": "event", "posts": "post",
    "assignments": "assignment", "offers": "offer", "loans": "loan",
}  # fmt: skip
"""The table that holds the lines of each file, by its stem."""


def read(folder: Path) -> tuple[Rule, ...]:
    """A club's own rules: files of the same form, one folder for each family, held to the same promises.

    They run on the same locked connection as the others: no file, no network, nothing but one select that reads
    tables of the club (`rules.guard`), for `LONGEST_S` at most and with the memory that a club may take.

    Raises
    ------
    RuleError
        A file does not keep the form, its name is taken, it is no single select, a sentence or evidence column does
        not come from the select, or what it says to get is no kind of thing.
    """
    rules = tuple(read_rule(path) for path in sorted(folder.glob("*/*.sql")))
    if not rules:
        raise RuleError(
            f"{folder.name}: no rule here. Put files into folders named like families: {folder.name}/packing/no_whistle.sql."
        )
    taken = set[str]()
    con = facts.blank()
    try:
        for rule in rules:
            if not is_clubs_own(rule) or rule.name in taken:
                raise RuleError(f"{rule.name}.sql: a rule of this name exists. Choose another file name.")
            if rule.family not in FAMILIES:
                raise RuleError(
                    f"{rule.name}.sql: folder {rule.family!r} is no family. Use one of {', '.join(FAMILIES)}."
                )
            hold(con, rule)
            taken.add(rule.name)
    finally:
        con.close()
    return rules


def hold(con: duckdb.DuckDBPyConnection, rule: Rule) -> None:
    """Check that a rule is one select whose columns its sentences and its remedy use."""
    try:
        statements = duckdb.extract_statements(rule.sql)
        if len(statements) != 1 or statements[0].type != duckdb.StatementType.SELECT:
            raise RuleError(f"{rule.name}.sql: not one select. Leave out everything but a single select.")
        if said := guard.reads_too_much(con, rule.sql):
            raise RuleError(f"{rule.name}.sql: the select {said}.")
        for name, of in rule.shared.items():
            if name not in params().get(of, {}):
                raise RuleError(
                    f'{rule.name}.sql, shared.{name}: no rule "{of}" has such a parameter. Write the name of one that has.'
                )
        values = rule.values(Policy.standard(), date.today())
        described = con.execute(f"describe {rule.sql}", values or None).fetchall()
        columns = {name: form for name, form, *_ in described}
    except duckdb.Error as error:
        raise RuleError(f"{rule.name}.sql: the select does not run: {error}") from error
    if not {"subject", "ok"} <= columns.keys():
        raise RuleError(f"{rule.name}.sql: the select must return subject and ok.")
    if "lines" in columns and not OF_LINES.fullmatch(columns["lines"]):
        raise RuleError(
            f"{rule.name}.sql: lines is no list of whole numbers. Write for example [item.line] as lines."
        )
    for word, kind in rule.remedy.items():
        if word != "kind" or (kind not in columns and kind not in reference.words("kind")):
            raise RuleError(
                f'{rule.name}.sql, remedy.{word}: "{kind}" is no kind of thing. '
                'Write kind = "whistle", or another kind, or a column of the select that holds one.'
            )
    for text in (rule.not_met, rule.not_known, rule.fix):
        if oddly := guard.speaks_oddly(text):
            raise RuleError(f"{rule.name}.sql: {oddly}.")
    spoken = {
        name
        for text in (rule.not_met, rule.not_known, rule.fix)
        for _, name, _, _ in string.Formatter().parse(text)
        if name
    }
    strange = spoken - columns.keys() - rule.figures().keys() - {"member", "kit", "event", "post"}
    if strange:
        raise RuleError(
            f"{rule.name}.sql: a sentence uses {', '.join(sorted(strange))}, which the select does not return."
        )


def hold_answers(con: duckdb.DuckDBPyConnection, rule: Rule, rule_no: int) -> None:
    """Check that a rule has answered once for each subject, by lines that are there, and has a sentence for
    those of which it cannot tell.

    Raises
    ------
    RuleError
        It has not.
    """
    found = con.execute(
        "select count(*) - count(distinct subject_id), count(*) filter (ok is null) from judgement "
        "where rule_no = $rule_no and subject_id is not null",
        {"rule_no": rule_no},
    ).fetchone()
    again, unknown = found or (0, 0)
    if again:
        raise RuleError(
            f"{rule.name}: this rule of the club's own answers more than once for the same {rule.subject}. Let its select "
            "return one row for each subject: group by its id, or write exists (…) in place of a join."
        )
    if unknown and not rule.not_known.strip():
        raise RuleError(
            f"{rule.name}: this rule of the club's own returns NULL as ok, and has no sentence for what is not known. "
            'Write not_known = "{subject}: …" in its header, or let ok be true or false alone.'
        )
    if rule.file and "lines" in rule.sql:
        missing = con.execute(
            "select distinct unnest(cast(json_extract(evidence, '$.lines') as bigint[])) as line from judgement "
            f"where rule_no = $rule_no except select line from {TOLD[rule.file]} order by line",
            {"rule_no": rule_no},
        ).fetchall()
        strange = [str(line) for (line,) in missing if line is not None]
        if strange:
            more = f" and {len(strange) - MOST_NAMED} more" if len(strange) > MOST_NAMED else ""
            raise RuleError(
                f"{rule.name}: this rule of the club's own names lines of {rule.file}.csv that are not there: "
                f"{', '.join(strange[:MOST_NAMED])}{more}. Return the column line of the table {TOLD[rule.file]}, or say in lines_of of which file they are."
            )


@contextmanager
def in_time(con: duckdb.DuckDBPyConnection, rule: Rule, until: float) -> Iterator[None]:
    """While a rule of a club's own runs, which is broken off when the time of all of them is over.

    Parameters
    ----------
    until : reading of `time.monotonic`

    Raises
    ------
    RuleError
        It takes too long or too much memory, or cannot be worked out.
    """
    name, done = rule.name, threading.Event()

    def break_off() -> None:
        pause = until - time.monotonic()
        while not done.wait(max(pause, 0.0)):
            con.interrupt()
            pause = 0.1  # what has not begun yet is not broken off

    watching = threading.Thread(target=break_off, daemon=True)
    watching.start()
    try:
        yield
    except duckdb.InterruptException as error:
        raise RuleError(
            f"{name}: the club's own rules took longer than {LONGEST_S:g} s, and this one was broken off. "
            "Make its select smaller."
        ) from error
    except duckdb.OutOfMemoryException as error:
        raise RuleError(
            f"{name}: this rule of the club's own takes more memory than the {club.MEMORY} that a club may take. "
            "Make its select smaller."
        ) from error
    except duckdb.Error as error:
        said = str(error).splitlines()[0]
        raise RuleError(f"{name}: this rule of the club's own cannot be worked out: {said}") from error
    finally:
        done.set()
        watching.join()
