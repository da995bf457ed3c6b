"""Errors whose text is meant for the person at the keyboard.

Every room raises these instead of letting a traceback reach a user. The text of an
`InputError` is one sentence: what was wrong, where, and what is accepted.
"""


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
