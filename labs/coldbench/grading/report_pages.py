"""Pages: templates filled with data, as one HTML file that needs nothing else.

Templates escape everything that is put in. A page runs no script, loads nothing, and its
Content-Security-Policy lets a browser take only the page's own style sheet and pictures.
"""

import base64
import hashlib
import os
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

from coldbench.errors import InputError
from coldbench.grading.record import write_atomically

_TEMPLATES = "coldbench.grading"
STYLE = "page.css"


@cache
def style_sheet() -> str:
    """The style sheet of every page."""
    return (files(_TEMPLATES) / "templates" / STYLE).read_text(encoding="utf-8")


@cache
def security_policy() -> str:
    """The pages' Content-Security-Policy: the style sheet by its hash, embedded pictures only."""
    digest = hashlib.sha256(style_sheet().encode("utf-8")).digest()
    style = base64.b64encode(digest).decode("ascii")
    return (f"default-src 'none'; style-src 'sha256-{style}'; img-src data:; "
            "base-uri 'none'; form-action 'none'")


@cache
def _environment() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    made = Environment(loader=PackageLoader(_TEMPLATES), autoescape=True, trim_blocks=True,
                       lstrip_blocks=True, undefined=StrictUndefined)
    made.filters.update(number=number, moment=moment, plural=plural, percent=percent,
                        unbroken=unbroken)
    made.globals.update(style=Markup(style_sheet()), policy=security_policy())
    return made


def fill(template: str, **data: Any) -> str:
    """Fill a template; everything put in is escaped unless it is marked safe by its maker."""
    return _environment().get_template(template).render(**data)


def write_page(path: Path, page: str) -> Path:
    """Write a page in one step; raises InputError when the place cannot be written."""
    try:
        write_atomically(path, page)
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror or error}") from None
    return path


def link_to(target: Path, page: Path) -> str:
    """Relative address of a file as seen from a page; never mistaken for a scheme.

    >>> link_to(Path("/a/feedback/x:y/l.html"), Path("/a/reports/l.html"))
    '../feedback/x%3Ay/l.html'
    """
    way = Path(os.path.relpath(target, page.parent)).as_posix()
    return quote(way if way.startswith("..") else f"./{way}")


def unbroken(text: str) -> Any:
    """Escape a text and keep short words with a dash, such as ids, on one line.

    >>> unbroken("see ml-07 <b>")
    Markup('see <span class="nowrap">ml-07</span> &lt;b&gt;')
    """
    from markupsafe import Markup, escape

    return Markup(" ").join(
        Markup('<span class="nowrap">{}</span>').format(word) if "-" in word and len(word) < 25
        else escape(word) for word in str(text).split(" "))


def number(value: float | None, digits: int = 2) -> str:
    """Write a number shortly, for people.

    >>> number(2.0), number(2.345), number(None), number(-0.5)
    ('2', '2.35', '–', '−0.5')
    """
    if value is None:
        return "–"
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace("-", "−")


def percent(share: float | None) -> str:
    """Write a share as a whole percentage, never rounding up to 100 or down to 0.

    >>> percent(0.5), percent(0.999), percent(0.001), percent(None)
    ('50 %', '99 %', '1 %', '–')
    """
    if share is None:
        return "–"
    whole = round(100 * share)
    return f"{whole if share in (0, 1) else min(99, max(1, whole))} %"


def plural(count: int, word: str, words: str = "") -> str:
    """Write a count with its word.

    >>> plural(1, "learner"), plural(3, "answer")
    ('1 learner', '3 answers')
    """
    return f"{count} {word if count == 1 else words or word + 's'}"


def moment(when: datetime | str | None) -> str:
    """Write a moment for people, in UTC.

    >>> moment("2026-12-04T17:00:00+00:00")
    'Fri 4 December 2026, 17:00 UTC'
    """
    if isinstance(when, str):
        try:
            when = datetime.fromisoformat(when)
        except ValueError:
            return ""
    if when is None:
        return ""
    when = when.astimezone(UTC) if when.tzinfo else when.replace(tzinfo=UTC)
    return f"{when:%a} {when.day} {when:%B %Y, %H:%M} UTC"


def late_words(seconds: float) -> str:
    """Say how late something was handed in.

    >>> late_words(7_800), late_words(204_000), late_words(0)
    ('2 h 10 min late', '2 days 8 h late', '')
    """
    minutes = round(seconds / 60)
    if minutes <= 0:
        return "under a minute late" if seconds > 0 else ""
    days, rest = divmod(minutes, 1440)
    hours, minutes = divmod(rest, 60)
    parts = [plural(days, "day") if days else "", f"{hours} h" if hours else "",
             f"{minutes} min" if minutes and not days else ""]
    return f"{' '.join(filter(None, parts))} late"
