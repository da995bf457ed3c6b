"""Errors whose text is meant for the person at the keyboard.

Every room raises these instead of letting a traceback reach a user. The text of an
`InputError` is one sentence: what was wrong, where, and what is accepted.
"""

import re


class InputError(ValueError):
    """Something the user gave cannot be used; the message is one clear sentence.

    Where several mistakes were found at once, the message is the first, `mistakes` all of them.

    >>> str(InputError("altitude 20 km is outside -2 to 11 km"))
    'altitude 20 km is outside -2 to 11 km'
    >>> InputError("fan: lacks 'motor'", "loop: lacks 'fluid'").mistakes
    ("fan: lacks 'motor'", "loop: lacks 'fluid'")
    """

    def __init__(self, first: str = "", *more: str) -> None:
        super().__init__(first)
        self.mistakes = (str(first), *more)

    def _render_traceback_(self) -> list[str]:
        """Give notebooks the sentence alone; IPython asks for this before it shows an error.

        >>> InputError("altitude 20 km is outside -2 to 11 km")._render_traceback_()
        ['This cannot be used: altitude 20 km is outside -2 to 11 km.']
        """
        text = str(self)
        return [f"This cannot be used: {text}{'' if text.endswith(('.', '?', '!')) else '.'}"]


class Gather:
    """Goes on after a mistake, so that one look finds all that do not depend on each other.

    >>> gather = Gather()
    >>> numbers = [gather.of(int, "1"), gather.of(lambda: gather.refuse("no number"))]
    >>> numbers, gather.mistakes
    ([1, None], ['no number'])
    """

    def __init__(self) -> None:
        self.mistakes: list[str] = []

    def of(self, call, *values):
        """Return call(*values), or None and keep the mistake."""
        try:
            return call(*values)
        except InputError as error:
            self.mistakes += error.mistakes
            return None

    def refuse(self, message: str) -> None:
        """Keep a mistake."""
        self.mistakes.append(message)

    def stop(self) -> None:
        """Raise an `InputError` if there are any."""
        if self.mistakes:
            raise InputError(*self.mistakes)


class ConvergenceError(RuntimeError):
    """A solver did not reach a solution; no result exists.

    >>> issubclass(ConvergenceError, RuntimeError)
    True
    """


def toml_trouble(error: Exception, text: str) -> str:
    """Say why a text is no TOML file, with the line that is meant.

    error [from `tomllib`]; text [what was read].

    >>> text = 'name = "ours"\\nambient_degC = 32,5\\n'
    >>> toml_trouble(ValueError("Expected newline (at line 2, column 18)"), text)
    'not valid TOML: line 2, "ambient_degC = 32,5": a decimal number takes a point, not a comma'
    """
    place = re.search(r"\(at line (\d+), column \d+\)$", str(error))
    lines = text.splitlines()
    if place is None or int(place[1]) > len(lines):
        return f"not valid TOML: {error}"
    line = lines[int(place[1]) - 1].strip()
    reason = str(error)[:place.start()].strip()
    reason = reason[:1].lower() + reason[1:]
    if re.search(r"=\s*[+-]?\d+,\d", line):
        reason = "a decimal number takes a point, not a comma"
    return f'not valid TOML: line {place[1]}, "{line[:60]}": {reason}'
