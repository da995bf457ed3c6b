"""`coldbench demo`: an invented class of 24, handed in, graded and reported."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, NoSandboxOption, WorkersOption
from coldbench.cli.grade import grade_with_progress


def command(
    course: CourseOption = None,
    workers: WorkersOption = 2,
    fresh: Annotated[bool, typer.Option("--fresh", help="Start the demo anew.")] = False,
    no_sandbox: NoSandboxOption = False,
) -> None:
    """Build the labs, let an invented class of 24 hand in, grade it, and show the report."""
    from coldbench.grading.build import build
    from coldbench.grading.course import find_course
    from coldbench.grading.demo import lay_out_demo
    from coldbench.grading.sandbox import choose_level

    level = choose_level(no_sandbox)
    demo = lay_out_demo(find_course(course), fresh)
    build(demo, [], level, lambda line: print(line, file=sys.stderr))
    outcomes = []
    for name in demo.labs():
        hand_in_with_progress(demo, name, level)
        outcomes.append(grade_with_progress(demo, name, level, workers))
    print_class(outcomes)
    print_places(demo)


def hand_in_with_progress(demo, name: str, level: str) -> None:
    """Write the invented class's work behind a progress bar."""
    from rich.console import Console
    from rich.progress import track

    from coldbench.grading.demo import demo_class, hand_in

    steps = iter(track(range(len(demo_class().habits)), f"{name}: class at work",
                       console=Console(file=sys.stderr)))
    next(steps)
    hand_in(demo, name, level, lambda: next(steps, None))


def print_class(outcomes) -> None:
    """Print the class table: a row a learner, a column a lab."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title="Invented class: marks so far")
    table.add_column("learner")
    for outcome in outcomes:
        table.add_column(f"{outcome.lab}\n(of {outcome.all_records[0].points:g})", justify="right")
    table.add_column("hand", justify="right")
    table.add_column("what stands out")
    by_learner = {}
    for outcome in outcomes:
        for record in outcome.all_records:
            by_learner.setdefault(record.learner, []).append(record)
    for learner, records in sorted(by_learner.items()):
        hand = sum(cell.score is None for record in records for cell in record.cells)
        table.add_row(learner, *(f"{record.score:.1f}" for record in records),
                      str(hand or "–"), stands_out(records))
    Console(width=None if sys.stdout.isatty() else 110).print(table)
    print("hand: written answers to be marked by hand")


def stands_out(records) -> str:
    """Say in a few words what a teacher would notice about a learner's work."""
    words = []
    for record in records:
        words += ["late"] if record.late_seconds else []
        words += [sentence.split(";")[0].split(".")[0] for sentence in
                  (*record.notices, *record.repairs)][:1]
        words += [f"{state.split(':')[0]} in {cell}" for cell, state in record.run.items()
                  if state != "ok"][:1]
        words += [mark.mistake for cell in record.cells for mark in cell.marks if mark.mistake][:1]
    return "; ".join(dict.fromkeys(words))[:90]


def print_places(demo) -> None:
    """Write the reports and say where everything lies."""
    from coldbench.grading.report import make_report
    from coldbench.grading.report_html import write_report

    for name in demo.labs():
        print(f"class report   {write_report(demo, make_report(demo, name), None)}")
    print(f"feedback       {demo.desk / 'feedback'}")
    print(f"gradebook      {demo.desk / 'gradebook.db'}")
    print("the labs       coldbench lab      (or: python3 labs lab)")
