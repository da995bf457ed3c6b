"""Reads a number as people write it, and refuses what could be read two ways.

A decimal point or one decimal comma, thousands apart by blanks, by ' or by the other mark:
`2.5`, `2,5`, `1 600`, `1'600`, `1,600.5`, `1.600,5`, `-4e3`. `1,600` alone could be 1600 or 1.6:
refused. So is a number that needs working out: `10⁵`, `5½`, `3×10^2`, `1/3`, `1:3`.
"""

import math
import re
import unicodedata

from coldbench.errors import InputError
from coldbench.quantity.spelling import clean

_GROUPED_BLANK = re.compile(r"[+-]?\d{1,3}([ ']\d{3})+([.,]\d+)?")
_GROUPED_COMMA = re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+|[+-]?\d{1,3}(,\d{3}){2,}")
_GROUPED_POINT = re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d{1,3}(\.\d{3}){2,}")
_AMBIGUOUS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_PLAIN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\s?[\d.,](?:[\d.,]|[ '](?=\d{3}(?:\D|$)))*(?:e[+-]?\d+)?", re.IGNORECASE)
_WORK = re.compile(r"\d*\s*[/\u2044]\s*\d|:\s*(?!1\s*$)\d|\^|\*\*|[*x×·]\s*10", re.IGNORECASE)


def split_number(text: str) -> tuple[str, str]:
    """Split a text into the leading number and the unit that follows it.

    Parameters
    ----------
    text : str
        For example "2.5 bar", as typed.

    Returns
    -------
    tuple[str, str]
        Number ("" when there is none) and unit, both cleaned.

    Raises
    ------
    InputError
        If the number needs working out: a power, a product or a fraction.

    Examples
    --------
    >>> split_number("1 600 m"), split_number("−4degC"), split_number("warm")
    (('1 600', 'm'), ('-4', 'degC'), ('', 'warm'))
    >>> split_number("10⁵ Pa")
    Traceback (most recent call last):
    coldbench.errors.InputError: '10⁵ Pa' needs working out; write one number, like 1.5e5 or 0.25
    """
    typed, spelt = text.strip(), clean(text)
    match = _NUMBER.match(spelt)
    if not match:
        return "", spelt
    rest = spelt[match.end():].strip()
    # Normal form KC would make 105 of 10⁵ and 51/2 of 5½.
    raised = any(unicodedata.category(sign) == "No" for sign in typed[:match.end()])
    if raised or _WORK.match(rest):
        raise InputError(f"'{typed[:40]}' needs working out; write one number, "
                         "like 1.5e5 or 0.25")
    return match.group().strip(), rest


def read_number(text: str) -> float:
    """Read one written number.

    Parameters
    ----------
    text : str
        The number alone, for example "2,5".

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the text is not a finite number, or could be read in two ways.

    Examples
    --------
    >>> read_number("2,5"), read_number("1,600.5"), read_number("1 600"), read_number("0,600")
    (2.5, 1600.5, 1600.0, 0.6)
    >>> read_number("1,600")
    Traceback (most recent call last):
    coldbench.errors.InputError: '1,600' could mean 1600 or 1.6; write one of these
    """
    bare = re.sub(r"^([+-])\s", r"\1", text.strip())
    if _AMBIGUOUS.fullmatch(bare):
        whole, decimal = bare.replace(",", ""), float(bare.replace(",", "."))
        raise InputError(f"{text!r} could mean {whole} or {decimal:g}; write one of these")
    value = float(_plain_spelling(bare, text))
    if not math.isfinite(value):
        raise InputError(f"{text!r} is too large to be a number here")
    return value


def _plain_spelling(bare: str, text: str) -> str:
    if _GROUPED_BLANK.fullmatch(bare):
        return re.sub("[ ']", "", bare).replace(",", ".")
    if _GROUPED_COMMA.fullmatch(bare):
        return bare.replace(",", "")
    if _GROUPED_POINT.fullmatch(bare):
        return bare.replace(".", "").replace(",", ".")
    if _PLAIN.fullmatch(bare):
        return bare.replace(",", ".")
    raise InputError(f"{text!r} is not a number; write it like 2.5 or 1600")
