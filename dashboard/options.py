"""Options that many commands take."""

from pathlib import Path
from typing import Annotated

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]
Policy = Annotated[
    Path | None, typer.Option("--policy", metavar="FILE", help="The club's own policy (TOML).")
]
Seconds = Annotated[
    float,
    typer.Option(min=0.1, help="Time to search; then the best so far, and how much better there may be."),
]
Today = Annotated[
    str | None,
    typer.Option("--today", metavar="DATE", help="Count ages to this day; else to the present one."),
]
