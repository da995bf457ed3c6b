"""Text to the terminal, whatever letters it has."""

import sys


def say(text: str) -> None:
    """Print a text, also where terminal or pipe lack the true minus or the degree sign.

    Parameters
    ----------
    text : str
        What to print; a line end is added.

    Examples
    --------
    >>> say("done")
    done
    """
    encoding = sys.stdout.encoding or "utf-8"
    plain = text.encode(encoding, "replace").decode(encoding)
    sys.stdout.write((text if plain == text else _ascii(text)) + "\n")


def _ascii(text: str) -> str:
    swapped = text.replace("\u2212", "-").replace("°", "deg")
    return swapped.encode("ascii", "replace").decode()
