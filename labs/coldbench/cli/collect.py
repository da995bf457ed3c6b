"""`coldbench collect`: take in what learners handed in."""

from pathlib import Path
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, short, spoken
from coldbench.errors import InputError

MOST_NAMED = 12


def command(
    sources: Annotated[list[Path], typer.Argument(
        metavar="SOURCE…", help="Folders, zip files or notebooks, as a platform exports them.")],
    lab: Annotated[str | None, typer.Option(
        "--lab", metavar="LAB", help="The lab, where names do not say it.")] = None,
    pattern: Annotated[str | None, typer.Option(
        "--pattern", metavar="PATTERN",
        help="How files are named, e.g. '{learner}_{lab}_{anything}.ipynb'; "
             "default: as course.toml says.")] = None,
    file_times: Annotated[bool | None, typer.Option(
        "--file-times/--no-file-times",
        help="Take the time of a file for that of handing in.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Write nothing, only say.")] = False,
    course: CourseOption = None,
) -> None:
    """Collect submissions; every attempt is kept, none is overwritten."""
    from coldbench.grading.collect import collect, manner_of
    from coldbench.grading.course import find_course
    from coldbench.grading.lock import desk_lock

    found = find_course(course)
    if lab:
        found.require_lab(lab)
    manner = manner_of(found, lab or "", pattern or "", file_times)
    with desk_lock(found.desk, "collecting") as notes:
        account = collect(found, sources, manner, check)
    for note in notes:
        print(note)
    say_account(found, account, check)


def say_account(course, account, check: bool) -> None:
    """Print what became of each file; raises InputError when nothing was found."""
    from coldbench.grading.report_pages import plural

    for one in account.collected:
        _say_attempt(one)
    for name, reason in account.refused:
        print(f"refused {name!r}: {reason}")
    _say_passed(account.passed)
    if not account.collected:
        raise InputError("no submission was found: names must be LEARNER/LAB/….ipynb or "
                         "LEARNER_LAB_….ipynb, or fit --pattern; --lab LAB where the name does "
                         f"not say it; the labs are {', '.join(course.labs()) or 'none yet'}")
    new = sum(one.state == "new" for one in account.collected)
    print(f"{plural(new, 'attempt')} new, {len(account.collected) - new} here already, "
          f"{len(account.refused)} refused"
          + ("; nothing was written (--check)" if check else f"; in {short(course.submitted)}"))
    if longer := [one for one in account.collected
                  if _stranger(one) and one.work.learner.startswith(one.claim)]:
        print(f"ids may be read wrongly: {longer[0].work.learner!r} begins with the id in the "
              f"notebook, {longer[0].claim!r}; if names hold more than the id, say so with --pattern")
    if not all(one.work.moment for one in account.collected):
        print("without a time of handing in, work counts as on time: a {time} in the pattern, a "
              "timestamp.txt beside the notebook, or --file-times gives one")
    if not check:
        print(f"next: {spoken('grade', course)}")


def _say_passed(names: list[str]) -> None:
    """Name what was not taken: every notebook, of the rest the first few."""
    notebooks = [name for name in names if name.lower().endswith(".ipynb")]
    if notebooks:
        print("not taken, since the name does not say both learner and lab of this course; rename "
              f"it, or add --pattern: {', '.join(map(repr, notebooks))}")
    others = [name for name in names if name not in notebooks]
    if others:
        more = len(others) - MOST_NAMED
        print("not taken: " + ", ".join(map(repr, others[:MOST_NAMED]))
              + (f" and {more} more" if more > 0 else ""))


def _stranger(one) -> bool:
    """Whether a notebook names another learner than its file name does."""
    from coldbench.worksheet.cases import PRACTICE

    return one.claim not in ("", PRACTICE, one.work.learner)


def _say_attempt(one) -> None:
    from coldbench.grading.sources import shown_name

    work = one.work
    when = f", handed in {work.moment:%Y-%m-%d %H:%M} UTC" if work.moment else ""
    state = "" if one.state == "new" else " (here already)"
    counts = "counts" if one.counts else "kept"
    print(f"{work.learner}  {work.lab}  attempt {one.number}{state}: {counts}{when}; "
          f"{shown_name(work.name)} from {shown_name(work.source)}")
    if work.unread:
        print(f"    {work.unread!r} is no time that can be read, so it counts as on time.")
    if _stranger(one):
        print(f"    The notebook says it belongs to {one.claim!r}.")
    if one.lab not in ("", work.lab):
        print(f"    The notebook is of another lab, {one.lab}.")
    for sentence in one.repairs:
        print(f"    {sentence}")
