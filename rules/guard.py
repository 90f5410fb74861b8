"""What a rule of a club's own may do: read the tables of the club, and speak of what it found. Nothing else."""

from __future__ import annotations

import json
import re
import string
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import duckdb

# Words of the syntax tree for what only reads.
QUERIES = {"SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE", "CTE_NODE"}
FROM = {"BASE_TABLE", "JOIN", "SUBQUERY", "TABLE_FUNCTION", "EMPTY", "EXPRESSION_LIST", "PIVOT"}
ROWS_OF = {
    "range",
    "generate_series",
    "unnest",
}  # functions that may stand in the place of a table, beside the club's own views with a figure
# Words that ask for the time by themselves, as a column does.
TIMES = frozenset({"current_date", "current_time", "current_timestamp", "localtime", "localtimestamp"})
# Functions that answer differently another time, wait, or do something beside answering.
UNSTEADY = TIMES | frozenset({
    "random", "setseed", "uuid", "uuidv4", "uuidv7", "gen_random_uuid", "nextval", "currval", "setval",
    "now", "today", "get_current_time", "get_current_timestamp", "current_localtime", "current_localtimestamp", "ago",
    "pg_conf_load_time", "pg_postmaster_start_time", "transaction_timestamp", "txid_current", "current_transaction_id",
    "current_connection_id", "current_query", "current_query_id", "current_setting", "getvariable",
    "sleep_ms", "pg_sleep", "write_log", "error", "stats", "vector_type",
})  # fmt: skip
# Functions that make much of little in one step, which nothing can break off.
GROWING = frozenset({
    "repeat", "lpad", "rpad", "bar", "format", "printf", "bitstring", "to_base", "list_resize", "array_resize",
    "range", "generate_series",
})  # fmt: skip
SPEC = re.compile(r"([<>^]?[+]?0?[1-9]?[0-9]?,?(\.[0-9])?[f%]|g)?")  # a form that every number has


def reads_too_much(con: duckdb.DuckDBPyConnection, sql: str) -> str:
    """What one select does that no rule may, in words; "" where it only reads tables of the club.

    Parameters
    ----------
    con : a club with every table, where `sql` is known to run
    """
    told = con.execute("select json_serialize_sql($1)", [sql]).fetchone()
    assert told is not None
    tree = json.loads(told[0])
    if tree["error"]:
        return "is no plain select. Leave out everything but a single select"
    if Counter(re.findall(r"\$(\w*)", sql)) != Counter(_parameters(tree)):
        return "writes a $ that begins no parameter. Leave it out"
    listed = "select table_name, false from duckdb_tables() union all select view_name, internal from duckdb_views()"
    is_internal = dict(con.execute(listed).fetchall())
    given = {named["key"].lower() for node in _nodes(tree) for named in _named(node)}
    # a name that the select gives counts everywhere in it, so it may be none that the database gives as well
    tables = {name for name in {*is_internal, *given} if not is_internal.get(name)} - _of_answers()
    of_figures = (
        "select function_name from duckdb_functions() where function_type = 'table_macro' and not internal"
    )
    makers = ROWS_OF | {name for (name,) in con.execute(of_figures).fetchall()}
    rows_of = [node["function"] for node in _nodes(tree) if node.get("type") == "TABLE_FUNCTION"]
    for node in _nodes(tree):
        if said := _too_much(node, tables, makers):
            return said
        if (name := _asked(node)) in GROWING and not any(node is row for row in rows_of):
            return f"asks {name}(), which can make much of little. Leave it out; rows of numbers come from range()"
    return ""


@cache
def _of_answers() -> frozenset[str]:
    """Tables and views of what the rules find, which fill while they run: no rule hangs on another's answer."""
    scripts = [(Path(__file__).parent / name).read_text("utf-8") for name in ("subject.sql", "score.sql")]
    return frozenset(re.findall(r"^create (?:table|view) (\w+)", "\n".join(scripts), re.MULTILINE))


def _too_much(node: dict[str, Any], tables: set[str], makers: set[str]) -> str:
    kind = str(node.get("type", ""))
    name = _asked(node)
    if name in UNSTEADY or (name == "age" and len(node["arguments"]) == 1):
        return f"asks {name}(), which does not answer the same every time. Use $today for the day"
    if node.get("sample") is not None:
        return "takes a sample, which is not the same every time. Judge every row"
    if kind.endswith("_NODE") and kind not in QUERIES:
        return "changes something. Leave out everything but a single select"
    if {"alias", "sample"} <= node.keys() and kind not in FROM:
        return "reads what is no table of the club. Name one of its tables"
    if kind == "TABLE_FUNCTION" and node["function"]["function_name"].lower() not in makers:
        return f"reads {node['function']['function_name']}(), which is no table of the club. Name one of its tables"
    if kind == "BASE_TABLE" and (
        node["table_name"].lower() not in tables or node["schema_name"] not in ("", "main")
    ):
        return f"reads {node['table_name']}, which is no table of the club. Name one of its tables"
    return ""


def _asked(node: dict[str, Any]) -> str:
    """The function that a node asks; "" where it asks none."""
    if node.get("class") == "COLUMN_REF":
        return next((name for name in map(str.lower, node["column_names"][:1]) if name in TIMES), "")
    return str(node.get("function_name", "")).lower()


def _parameters(tree: Any) -> Iterator[str]:
    """The names of the parameters of a select, each as often as it stands there."""
    return (str(node["identifier"]) for node in _nodes(tree) if node.get("class") == "PARAMETER")


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    """Every node of a syntax tree."""
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, dict):
            yield node
            waiting.extend(node.values())
        elif isinstance(node, list):
            waiting.extend(node)


def _named(node: dict[str, Any]) -> list[dict[str, Any]]:
    """The queries that a node names for use further on."""
    given = node.get("cte_map")
    found: list[dict[str, Any]] = given["map"] if isinstance(given, dict) else []
    return found + ([{"key": node["cte_name"]}] if "cte_name" in node else [])


def speaks_oddly(sentence: str) -> str:
    """What of a sentence cannot be filled in, in words; "" where all can."""
    try:
        fields = [field for field in string.Formatter().parse(sentence) if field[1] is not None]
    except ValueError as error:
        return f"a sentence cannot be read: {error}"
    for _, name, spec, _ in fields:
        if not name or not name.isidentifier():
            return f'a sentence uses "{{{name}}}". Write the name of a column, for example {{weight_kg:.1f}}'
        if not SPEC.fullmatch(spec or ""):
            return f'a sentence writes {name} as "{spec}". Write a form like .1f'
    return ""
