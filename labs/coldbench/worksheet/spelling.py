"""Matching words a learner typed with the words a lab offers."""

import re
import unicodedata
from collections.abc import Iterable

_DASH = re.compile("[\u2010-\u2015\u2212]")
_KEPT = re.compile(r"(?<![^\W_])-(?=\.?\d)|(?<=\d)\.(?=\d)|[^\W_]")


def exact(text: str) -> str:
    """Spell a text in one way: case, runs of blanks and kinds of dash do not matter.

    >>> exact(" Dew  point ") == exact("dew point")
    True
    """
    one = unicodedata.normalize("NFKC", _DASH.sub("-", text)).casefold()
    return " ".join(one.split())


def fold(text: str) -> str:
    """Spell a text by its letters and digits alone; a number keeps its sign and its point.

    >>> fold(" Dew  point ") == fold("dew-point")
    True
    >>> fold("R-134a"), fold("−10 °C"), fold("1.5 bar")
    ('r134a', '-10c', '1.5bar')
    """
    return "".join(_KEPT.findall(exact(text)))


def find(text: str, options: Iterable[str]) -> str | None:
    """Find the option a text means: spelled alike, or alone in having its letters and digits.

    >>> find("r134a", ("R-134a", "R-22")), find("<", ("< 5", "> 5")), find("5", ("< 5", "> 5"))
    ('R-134a', None, None)
    """
    options = tuple(options)
    for option in options:
        if exact(option) == exact(text):
            return option
    alike = [option for option in options if fold(option) == fold(text)]
    return alike[0] if len(alike) == 1 and fold(text) else None


def one_line(value: object, longest: int = 60) -> str:
    """Show a piece of data on one line, shortened, without control characters.

    >>> one_line("a\\nb"), one_line("x" * 9, 5)
    ('a b', 'xxxx…')
    """
    text = str(value)[:20 * longest]
    words = " ".join("".join(ch if ch.isprintable() else " " for ch in text).split())
    return words if len(words) <= longest else words[:longest - 1] + "…"


def quoted(value: object) -> str:
    """Show a piece of data in a sentence: text in quotes, other data as it is.

    >>> quoted("warm"), quoted([1, 2])
    ("'warm'", '[1, 2]')
    """
    return f"'{one_line(value)}'" if isinstance(value, str) else one_line(value)


def sentence(text: str) -> str:
    """End a sentence with one full stop, unless it has its own end.

    >>> sentence("Which one?"), sentence("Look again")
    ('Which one?', 'Look again.')
    """
    return text if text.endswith((".", "?", "!", "…")) else f"{text}."
