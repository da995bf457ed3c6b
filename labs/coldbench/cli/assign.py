"""`coldbench assign`: sealed benches for a class, with a private list of what is wrong."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, spoken


def command(
    lab: Annotated[str, typer.Argument(metavar="LAB", help="Such as whole-bench-diagnosis.")],
    pool: Annotated[str | None, typer.Option(metavar="POOL", help=(
        "A file ending in .toml, or families and patterns of faults between commas; default: "
        "the lab's own pool.toml."))] = None,
    seed: Annotated[int | None, typer.Option(metavar="N", min=0, help=(
        "The same seed draws the same benches; keep it to yourself. Default: a secret one."))
        ] = None,
    benches: Annotated[int, typer.Option(metavar="N", help="Benches to seal, 3 to 60.")] = 12,
    force: Annotated[bool, typer.Option(
        "--force", help="Replace benches although work on them was handed in.")] = False,
    course: CourseOption = None,
) -> None:
    """Draw faults from a pool and seal a bench for each; learners get three of them."""
    from coldbench.grading.assign import assign
    from coldbench.grading.course import find_course

    found = find_course(course)
    made = assign(found, lab, pool, seed, benches, force,
                  lambda line: print(f"{lab}: {line}", file=sys.stderr, flush=True))
    print(f"{lab}: {made.words}. Next: {spoken(f'build {lab}', found)}")
