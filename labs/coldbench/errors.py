"""Errors whose text is meant for the person at the keyboard.

Every room raises these instead of letting a traceback reach a user. The text of an
`InputError` is one sentence: what was wrong, where, and what is accepted.
"""


class InputError(ValueError):
    """Something the user gave cannot be used; the message is one clear sentence.

    >>> str(InputError("altitude 20 km is outside -2 to 11 km"))
    'altitude 20 km is outside -2 to 11 km'
    """

    def _render_traceback_(self) -> list[str]:
        """Give notebooks the sentence alone; IPython asks for this before it shows an error.

        >>> InputError("altitude 20 km is outside -2 to 11 km")._render_traceback_()
        ['This cannot be used: altitude 20 km is outside -2 to 11 km.']
        """
        text = str(self)
        return [f"This cannot be used: {text}{'' if text.endswith(('.', '?', '!')) else '.'}"]


class ConvergenceError(RuntimeError):
    """A solver did not reach a solution; no result exists.

    >>> issubclass(ConvergenceError, RuntimeError)
    True
    """
