"""`coldbench demo`: an invented class of 24, handed in, graded and reported."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, NoSandboxOption, WorkersOption, short
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
    from coldbench.grading.report import make_report
    from coldbench.grading.sandbox import choose_level

    level = choose_level(no_sandbox)
    demo = lay_out_demo(find_course(course), fresh)
    build(demo, [], level, lambda line: print(line, file=sys.stderr))
    outcomes = []
    for name in demo.labs():
        hand_in_with_progress(demo, name, level)
        outcomes.append(grade_with_progress(demo, name, level, workers))
    reports = [make_report(demo, name) for name in demo.labs()]
    print_class(outcomes, reports)
    print_places(demo, reports)


def hand_in_with_progress(demo, name: str, level: str) -> None:
    """Write the invented class's work behind a progress bar."""
    from rich.console import Console
    from rich.progress import track

    from coldbench.grading.demo import demo_class, hand_in

    steps = iter(track(range(len(demo_class().habits)), f"{name}: class at work",
                       console=Console(file=sys.stderr)))
    next(steps)
    hand_in(demo, name, level, lambda: next(steps, None))


def print_class(outcomes, reports) -> None:
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
                      str(hand or "–"), stands_out(records, reports))
    Console().print(table)
    print("hand: written answers to be marked by hand")


def stands_out(records, reports) -> str:
    """Say in a few words what a teacher would notice about a learner's work."""
    from coldbench.worksheet.marks import RIGHT

    who = records[0].learner
    words = [f"fits {match.other}'s numbers" for report in reports for match in report.matches
             if match.learner == who][:1]
    words += [f"nothing from question {report.questions[one.stuck_at - 1].label} on"
              for report in reports for one in report.learners
              if one.learner == who and one.stuck_at][:1]
    for record in records:
        words += ["late"] if record.late_seconds else []
        words += [sentence.split(";")[0].split(".")[0] for sentence in
                  (*record.notices, *record.repairs)][:1]
        words += [f"{state.split(':')[0]} in {cell}" for cell, state in record.run.items()
                  if state != "ok"][:1]
        words += [mark.mistake for cell in record.cells for mark in cell.marks
                  if mark.mistake and mark.status != RIGHT][:1]
    return "; ".join(dict.fromkeys(words))[:90]


def print_places(demo, reports) -> None:
    """Write the reports and say where everything lies and what to do next."""
    from coldbench.grading.report_html import write_report

    for report in reports:
        print(f"class report  {short(write_report(demo, report, None))}")
    print(f"feedback      {short(demo.desk / 'feedback')}")
    print(f"gradebook     {short(demo.desk / 'gradebook.db')}")
    print("Open the class report in a browser; a learner's id there opens her feedback.")
    print("The labs: python3 labs lab    Any command: python3 labs COMMAND --help")
