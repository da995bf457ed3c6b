"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

CourseOption = Annotated[
    Path | None,
    typer.Option("--course", metavar="DIR", help="Course folder; default: found by walking up."),
]
NoSandboxOption = Annotated[
    bool,
    typer.Option("--no-sandbox", help="Accept to run learners' code with limits only."),
]
WorkersOption = Annotated[
    int, typer.Option("--workers", min=1, max=64, help="Submissions graded at a time.")
]
LabsArgument = Annotated[
    list[str] | None, typer.Argument(metavar="LAB…", help="Labs; default: all of the course.")
]
