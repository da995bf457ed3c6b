"""File names of a learning platform's export, read by a pattern the instructor sets.

`{learner}_{lab}_{anything}.ipynb` finds learner and lab in `ml-07_fault-trees_final.ipynb`.
A pattern may hold folders: `{learner}_{number}/{lab}.ipynb`. A journal (`.jsonl`) or an archive
(`.zip`) that matches but for its ending belongs to the same learner.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from coldbench.errors import InputError

NOTEBOOK, JOURNAL, ARCHIVE = ".ipynb", ".jsonl", ".zip"
MOST_FIELDS = 8
_COPY = re.compile(r" ?\((\d{1,3})\)(?=\.[a-z]+$)")  # what browsers add to a second download
_TIME = (r"\d{4}-?\d{2}-?\d{2}[T_ -]*\d{2}[-_.:h]?\d{2}(?:[-_.:]?\d{2})?(?:Z|[+-]\d{2}:?\d{2})?"
         r"|\d{13}|\d{10}")
FIELDS = {  # name → what it matches within one folder's or file's name
    "learner": r"[^/]+?", "time": _TIME, "attempt": r"\d{1,6}", "number": r"\d+",
    "anything": r"[^/]*?",
}
OWN_PATTERNS = ("{learner}/{lab}/{anything}.ipynb", "{learner}_{lab}.ipynb",
                "{learner}_{lab}_{anything}.ipynb", "{learner}/{lab}.ipynb")
OWN_PATTERNS_OF_A_LAB = (*OWN_PATTERNS, "{learner}/{anything}.ipynb", "{learner}.ipynb")


@dataclass(frozen=True)
class Named:
    """What a name says: learner, lab, kind [its ending], time, number of the attempt.

    unread [text that stands where the time should, but is none].
    """

    learner: str
    lab: str
    kind: str
    time: datetime | None = None
    attempt: int | None = None
    unread: str = ""


class NamePattern:
    """One pattern, ready to read names.

    pattern [see above; fields learner, lab, time, attempt, number, anything]; labs [names that
    {lab} can be]; lab [the lab when the pattern does not name it]; zone [of times without one].
    Raises InputError when the pattern cannot be used.

    >>> named = NamePattern("{learner}_{lab}_{time}.ipynb", ["fault-trees"]).read(
    ...     "export/ml-07_fault-trees_2026-12-04-163000.ipynb")
    >>> named.learner, named.lab, named.time.isoformat()
    ('ml-07', 'fault-trees', '2026-12-04T16:30:00+00:00')
    """

    def __init__(self, pattern: str, labs: Sequence[str], lab: str = "", zone: tzinfo = UTC):
        self._lab, self._zone = lab, zone
        pieces = re.split(r"\{([^{}]*)\}", _stem(pattern))
        names = pieces[1::2]
        _check_fields(pattern, names, lab)
        alternatives = "|".join(re.escape(name) for name in
                                sorted(labs, key=len, reverse=True)) or "(?!)"
        self._depth = pattern.count("/") + 1
        expression = ""
        for place, piece in enumerate(pieces):
            expression += re.escape(piece) if place % 2 == 0 else _group(piece, alternatives)
        endings = "|".join(re.escape(kind) for kind in (NOTEBOOK, JOURNAL, ARCHIVE))
        self._expression = re.compile(f"{expression}(?P<kind>{endings})")

    def read(self, path: str) -> Named | None:
        """Read a path inside a source [its last folders and name]; None when it does not fit.

        A number in brackets at the end, as a browser adds it, may be too much.
        """
        return self._read(path) or (self._read(_COPY.sub("", path)) if _COPY.search(path) else None)

    def _read(self, path: str) -> Named | None:
        parts = path.split("/")
        if len(parts) < self._depth:
            return None
        match = self._expression.fullmatch("/".join(parts[-self._depth:]))
        if match is None:
            return None
        found = match.groupdict()
        time = read_digits(found["time"], self._zone) if found.get("time") else None
        attempt = int(found["attempt"]) if found.get("attempt") else None
        lab = found.get("lab") or self._lab
        if self._lab and lab != self._lab:
            return None
        unread = found.get("time") or "" if time is None else ""
        return Named(found["learner"].strip(), lab, found["kind"], time, attempt, unread)


def copy_number(path: str) -> int:
    """The number that a browser added to a file's name; 0 where it added none.

    >>> copy_number("ml-07_fault-trees (2).ipynb"), copy_number("ml-07_fault-trees.ipynb")
    (2, 0)
    """
    found = _COPY.search(path)
    return int(found[1]) if found else 0


def _stem(pattern: str) -> str:
    if not pattern.endswith(NOTEBOOK):
        raise InputError(f"the pattern {pattern!r} must end in {NOTEBOOK}, as in "
                         "{learner}_{lab}_{anything}.ipynb")
    return pattern.removesuffix(NOTEBOOK)


def _check_fields(pattern: str, names: Sequence[str], lab: str) -> None:
    known = {*FIELDS, "lab"}
    if wrong := [name for name in names if name not in known]:
        raise InputError(f"the pattern {pattern!r} has a field {{{wrong[0]}}}; accepted are "
                         f"{', '.join('{%s}' % name for name in sorted(known))}")
    if len(names) > MOST_FIELDS:
        raise InputError(f"the pattern {pattern!r} has more than {MOST_FIELDS} fields")
    twice = [name for name in known - {"anything", "number"} if names.count(name) > 1]
    if twice:
        raise InputError(f"the pattern {pattern!r} has the field {{{twice[0]}}} twice")
    if "learner" not in names:
        raise InputError(f"the pattern {pattern!r} has no field {{learner}}")
    if "lab" not in names and not lab:
        raise InputError(f"the pattern {pattern!r} has no field {{lab}}; add it or --lab LAB")


def _group(name: str, labs: str) -> str:
    if name in ("anything", "number"):
        return f"(?:{FIELDS[name]})"
    return f"(?P<{name}>{labs if name == 'lab' else FIELDS[name]})"


def read_digits(text: str, zone: tzinfo) -> datetime | None:
    """Read a time as platforms write it into names; None when it is none.

    text [year to minute or second with any or no separators, then perhaps Z or an offset; or
    seconds or milliseconds since 1970]; zone [where the text names none]. Returns UTC.

    >>> read_digits("20261204T173000+0100", UTC).isoformat()
    '2026-12-04T16:30:00+00:00'
    """
    try:
        if re.fullmatch(r"\d{10}|\d{13}", text):
            return datetime.fromtimestamp(int(text[:10]), UTC)
        offset = re.search(r"(?<=\d{2})(Z|[+-]\d{2}:?\d{2})$", text[10:])
        body = text[: len(text) - len(offset[0])] if offset and len(
            re.sub(r"\D", "", text[: len(text) - len(offset[0])])) >= 12 else text
        digits = re.sub(r"\D", "", body).ljust(14, "0")
        moment = datetime.strptime(digits, "%Y%m%d%H%M%S")
        if body != text:
            return datetime.strptime(digits + text[len(body):], "%Y%m%d%H%M%S%z").astimezone(UTC)
        return moment.replace(tzinfo=zone).astimezone(UTC)
    except (ValueError, OverflowError):
        return None
