"""The class report as text for a terminal."""

from typing import Any

from coldbench.grading.attempts import tells_attempts
from coldbench.grading.feedback_safe import one_line
from coldbench.grading.report import Report
from coldbench.grading.report_matches import odds_words
from coldbench.grading.report_pages import late_words, number, percent, plural
from coldbench.grading.report_words import SIGNS, WORDS

MOST_NOTICES = 20  # the page holds all


def print_report(report: Report, console: Any) -> None:
    """Print a report [console: of rich]; nothing in it is read as markup."""
    from rich.text import Text

    def say(line: str = "", style: str = "") -> None:
        console.print(Text(line, style=style))

    say(f"{report.title} ({report.lab})", "bold")
    say(_summary(report.summary))
    say(histogram_line(report.summary["histogram"]))
    if report.attention:
        say("\nLook at first", "bold")
        for note in report.attention:
            say(f"• {note['text']}")
    say()
    console.print(_questions(report))
    console.print(_learners(report))
    say("  ".join(f"{sign} {WORDS[state]}" for state, sign in SIGNS.items()), "dim")
    _print_matches(report, say)
    _print_notices(report, say)
    _print_rest(report, say)
    for name, text in report.definitions.items():
        say(f"{name}: {text}", "dim")


def _summary(summary: dict[str, Any]) -> str:
    return (f"{plural(summary['learners'], 'learner')}, {number(summary['points'])} points. "
            f"Mean {number(summary['mean_percent'], 0)} %, "
            f"median {number(summary['median_percent'], 0)} %, middle half "
            f"{number(summary['lower_quartile_percent'], 0)} to "
            f"{number(summary['upper_quartile_percent'], 0)} % "
            f"of the points marked so far.")


def histogram_line(counts: list[int]) -> str:
    """Draw a histogram as one line of blocks.

    >>> histogram_line([0, 0, 0, 0, 1, 0, 2, 4, 8, 1])
    '0 % ····▁·▂▄█▁ 100 %'
    """
    blocks, most = "▁▂▃▄▅▆▇█", max(counts) or 1
    drawn = "".join("·" if count == 0 else blocks[max(0, -(-8 * count // most) - 1)]
                    for count in counts)
    return f"0 % {drawn} 100 %"


def _questions(report: Report) -> Any:
    from rich.table import Table
    from rich.text import Text

    table = Table(title="Questions, hardest first", title_justify="left", box=None,
                  pad_edge=False, header_style="bold")
    for heading, justify in (("No", "right"), ("Question", "left"), ("Facility", "right"),
                             ("Discr.", "right"), *((SIGNS[s], "right") for s in
                             ("right", "partly", "wrong", "missing", "malformed")),
                             ("Commonest mistake", "left")):
        table.add_column(heading, justify=justify)
    by_number = {q.number: q for q in report.questions}
    for q in (by_number[n] for n in report.hardest_first):
        common = q.mistakes[0] if q.mistakes else None
        said = f"{one_line(common['name'])} ({common['count']}×)" if common else ""
        counts = [str(q.counts[s] or "·") for s in
                  ("right", "partly", "wrong", "missing", "malformed")]
        table.add_row(q.label, Text(q.title), percent(q.facility),
                      number(q.discrimination), *counts, Text(said))
    return table


def _learners(report: Report) -> Any:
    from rich.table import Table
    from rich.text import Text

    table = Table(title="\nLearners, lowest marks first", title_justify="left", box=None,
                  pad_edge=False, header_style="bold")
    for heading, justify in (("Learner", "left"), ("Auto", "right"), ("Hand", "right"),
                             ("Total", "right"), ("%", "right")):
        table.add_column(heading, justify=justify)
    width = max(len("Questions"), min(len(report.questions), 30))
    table.add_column("Questions", overflow="fold", width=width)
    table.add_column("Remarks")
    lowest_first = sorted(report.learners, key=lambda one: (
        -1.0 if one.percent_so_far is None else one.percent_so_far, one.learner))
    for one in lowest_first:
        stuck = report.questions[one.stuck_at - 1].label if one.stuck_at else ""
        table.add_row(Text(one_line(one.learner, 64)), number(one.auto, 1), number(one.manual, 1),
                      number(one.total, 1), number(one.percent_so_far, 0),
                      Text("".join(SIGNS[state] for state in one.states)),
                      Text(_remarks(one, stuck)))
    return table


def _remarks(one: Any, stuck: str) -> str:
    said = [late_words(one.late_seconds)]
    said += [f"{number(one.late_penalty)} points off"] if one.late_penalty else []
    said += [f"stuck from {stuck}"] if stuck else []
    said += [f"{len(one.needs_hand)} to mark"] if one.needs_hand else []
    mended = any(not tells_attempts(text) for text in one.repairs)
    said += ["see notices"] if one.notices else ["mended"] if mended else []
    return ", ".join(word for word in said if word)


def _print_matches(report: Report, say: Any) -> None:
    if report.matches:
        say("\nAnswers that fit somebody else's numbers (look, do not accuse)", "bold")
    for m in report.matches:
        say(f"• {one_line(m.learner, 64)} fits {one_line(m.other, 64)}: {m.hits} of {m.compared} "
            f"wrong numbers, {number(m.expected_hits, 1)} by chance; such a pair arises "
            f"{odds_words(m.expected_pairs)}")


def _print_notices(report: Report, say: Any) -> None:
    told = [(one.learner, text) for one in report.learners for text in one.notices]
    if told:
        say("\nNotices from grading", "bold")
    for learner, text in told[:MOST_NOTICES]:
        say(f"• {one_line(learner, 64)}: {one_line(text, 600)}")
    if len(told) > MOST_NOTICES:
        say(f"• {len(told) - MOST_NOTICES} more stand on the page")


def _print_rest(report: Report, say: Any) -> None:
    levels = ", ".join(f"{one_line(level)} ({plural(count, 'submission')})"
                       for level, count in report.sandbox.items())
    say(f"\nLearners' code ran at this level of the sandbox: {levels}.")
    if report.summary["answers_to_mark"]:
        say("Mark by hand: start `coldbench lab` in the course folder, open Nbgrader → Formgrader "
            f"→ Manual Grading → {report.lab}; then run `coldbench feedback {report.lab}`.")
    for what, who in (("handed in but not graded", report.not_graded),
                      ("records that cannot be read", report.unreadable)):
        if who:
            say(f"{what}: {', '.join(one_line(name, 64) for name in who)}")
    say()
