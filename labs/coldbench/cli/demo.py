"""`coldbench demo`: an invented class of 24, handed in, graded and reported."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, NoSandboxOption, WorkersOption, short
from coldbench.cli.grade import grade_with_progress


def command(
    course: CourseOption = None,
    workers: WorkersOption = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Start the demo anew.")] = False,
    no_sandbox: NoSandboxOption = False,
) -> None:
    """Build the labs, let an invented class of 24 hand in, grade it, and show the report."""
    from coldbench.grading.build import build
    from coldbench.grading.course import find_course
    from coldbench.grading.demo import assign_demo, lay_out_demo
    from coldbench.grading.report import make_report
    from coldbench.grading.sandbox import choose_level

    level = choose_level(no_sandbox)
    demo = lay_out_demo(find_course(course), fresh)

    def say(line: str) -> None:
        print(line, file=sys.stderr)

    assign_demo(demo, say)
    build(demo, [], level, say)
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
    """Print the class table: a row a learner, a narrow column a lab, however many there are."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title="Invented class: marks so far", title_justify="left", box=None,
                  pad_edge=False, header_style="bold")
    table.add_column("learner")
    for number, outcome in enumerate(outcomes, start=1):
        table.add_column(f"lab {number}\nof {outcome.all_records[0].points:g}", justify="right")
    table.add_column("by\nhand", justify="right")
    table.add_column("what stands out", overflow="fold")
    by_learner = {}
    for outcome in outcomes:
        for record in outcome.all_records:
            by_learner.setdefault(record.learner, []).append(record)
    for learner, records in sorted(by_learner.items()):
        hand = sum(cell.score is None for record in records for cell in record.cells)
        table.add_row(learner, *(f"{record.score:.1f}" for record in records),
                      str(hand or "–"), stands_out(records, reports))
    Console().print(table)
    for number, outcome in enumerate(outcomes, start=1):
        print(f"lab {number}: {outcome.lab}")
    print("by hand: written answers that wait for a mark; in brackets: in which labs")


def stands_out(records, reports, room: int = 76) -> str:
    """Say in a few words what a teacher would notice first about a learner's work.

    Whole phrases only, as many as the room [characters] holds, the gravest kind first; the
    numbers behind a phrase are those of the labs it holds for.
    """
    said = [record_words(record, report) for record, report in zip(records, reports, strict=True)]
    labs_of = {}
    for same_kind in zip(*said, strict=True):
        for number, phrase in enumerate(same_kind, start=1):
            labs_of.setdefault(phrase, []).append(str(number))
    labs_of.pop("", None)
    kept = ""
    for phrase, numbers in labs_of.items():
        which = "all" if len(numbers) == len(reports) > 2 else ", ".join(numbers)
        where = f" ({which})" if len(reports) > 1 else ""
        longer = f"{kept}; {phrase}{where}" if kept else f"{phrase}{where}"
        if kept and len(longer) > room:
            break
        kept = longer
    return kept


def record_words(record, report) -> list[str]:
    """What stands out in one submission, gravest first: a phrase of each kind, or empty."""
    from coldbench.worksheet.marks import RIGHT

    who = record.learner
    kinds = (
        [f"fits {match.other}'s numbers" for match in report.matches if match.learner == who],
        [sentence.split(";")[0].split(".")[0] for sentence in (*record.notices, *record.repairs)],
        [f"nothing from question {report.questions[one.stuck_at - 1].label} on"
         for one in report.learners if one.learner == who and one.stuck_at],
        ["late"] if record.late_seconds else [],
        [f"{state.split(':')[0]} in {cell}" for cell, state in record.run.items()
         if state != "ok"],
        [mark.mistake for cell in record.cells for mark in cell.marks
         if mark.mistake and mark.status != RIGHT],
    )
    return [phrases[0] if phrases else "" for phrases in kinds]


def print_places(demo, reports) -> None:
    """Write the reports and say where everything lies and what to do next."""
    from coldbench.grading.report_html import write_report

    for report in reports:
        print(f"class report  {short(write_report(demo, report, None))}")
    print(f"feedback      {short(demo.desk / 'feedback')}")
    print(f"gradebook     {short(demo.desk / 'gradebook.db')}")
    print("Open the class report in a browser; a learner's id there opens her feedback.")
    print("The labs: python3 labs lab    Any command: python3 labs COMMAND --help")
