"""A measurement journal for people: lines of text, and a table for notebooks and paper."""

import html
import re
import textwrap
from typing import Any

from coldbench.worksheet.entries import Entry, Findings
from coldbench.worksheet.spelling import one_line

EMPTY = "The journal holds no measurements yet."
WIDTH = 72
"""Characters of a line: so many stand side by side in a notebook and on paper."""
NO_SETTINGS = "no settings"
_HEADS = ("No.", "Instrument", "Where", "Reading")
_LEFT = "text-align:left"
_PLAIN = {"place", "part", "branch", "reading", "what"}
"""Arguments whose value says all; others are named: red, black, line, input, value."""
_TIE = "\u00a0"
_UNIT = re.compile(r"(?<=[0-9%]) (?=[%°±]|[kMm]?(?:V|A|Ω|Pa|g)\b|W/)|(?<=±) ")
"""Blanks at which no line is broken."""


def entry_row(entry: Entry) -> tuple[str, ...]:
    """An entry as the words of a table's row."""
    where = ", ".join(_short(value) if name in _PLAIN else f"{name} {_short(value)}"
                      for name, value in entry.arguments.items())
    settings = ", ".join(_short(value) if name in ("bench", "state") else f"{name} {_short(value)}"
                         for name, value in entry.settings.items())
    note = f" ({entry.note})" if entry.note and not entry.refused else ""
    return (str(entry.n), entry.instrument, one_line(where, 60), one_line(settings, 80),
            one_line(f"{entry.shown}{note}", 400))


def _short(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} {_short(item)}" for name, item in value.items())
    if isinstance(value, list):
        return ", ".join(map(_short, value))
    return ("on" if value else "off") if isinstance(value, bool) else str(value)


def journal_text(findings: Findings, troubles: bool = True) -> str:
    """A journal as lines of text, under the settings they share [troubles: what does not count]."""
    lines, before = [], ""
    for number, instrument, where, settings, reading in map(entry_row, findings.entries):
        if settings != before:
            lines.append(f"{settings or NO_SETTINGS}:")
            before = settings
        lines += _wrapped(f"{number:>4}  ", f"{', '.join(filter(None, (instrument, where)))}: "
                                            f"{reading}")
    said = findings.troubles if troubles else []
    return "\n".join([*(lines or [EMPTY]), *(f"! {trouble}" for trouble in said)])


def _wrapped(head: str, words: str) -> list[str]:
    """A line broken between words, not before a unit; its number stands alone on the left."""
    lines = textwrap.wrap(_UNIT.sub(_TIE, words), WIDTH, initial_indent=head,
                          subsequent_indent=" " * len(head), break_on_hyphens=False)
    return [line.replace(_TIE, " ") for line in lines]


def journal_html(findings: Findings) -> str:
    """A journal as a table for notebooks; on paper a row is never cut in two.

    Readings stand under the settings they share, which would fill a column with repeats.
    """
    if not findings.entries and not findings.troubles:
        return f"<p>{EMPTY}</p>"
    head = "".join(f"<th scope='col' style='{_LEFT}'>{name}</th>" for name in _HEADS)
    rows, before = [], ""
    for number, instrument, where, settings, reading in map(entry_row, findings.entries):
        if settings != before:
            words = html.escape(settings or NO_SETTINGS)
            rows.append(f"<tr style='break-after:avoid'><th scope='colgroup' "
                        f"colspan='{len(_HEADS)}' style='{_LEFT}'>{words}</th></tr>")
            before = settings
        cells = "".join(f"<td style='{_LEFT}'>{html.escape(cell)}</td>"
                        for cell in (number, instrument, where, reading))
        rows.append(f"<tr style='break-inside:avoid'>{cells}</tr>")
    said = "".join(f"<p>! {html.escape(trouble)}</p>" for trouble in findings.troubles)
    return (f"<table><caption style='caption-side:top;{_LEFT}'>Measurements</caption>"
            f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>{said}")
