"""One form for the many ways a unit or number can be typed."""

import unicodedata

_MARKS = str.maketrans({"º": "°", "\u2212": "-", "\u2013": "-", "″": '"', "”": '"', "“": '"',
                        "’": "'", "′": "'"})


def clean(text: str) -> str:
    """Bring a text to Unicode normal form KC with plain minus, quote and degree marks.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str
        Outer blanks removed.

    Examples
    --------
    >>> clean("−4 ℃"), clean("kg/m³")
    ('-4 °C', 'kg/m3')
    """
    return unicodedata.normalize("NFKC", text.translate(_MARKS)).strip()


def squeeze(spelling: str) -> str:
    """Clean a unit and remove the blanks and multiplication dots that change no meaning.

    Parameters
    ----------
    spelling : str
        As typed.

    Returns
    -------
    str

    Examples
    --------
    >>> squeeze("deg C"), squeeze("kJ/(kg·K)")
    ('degC', 'kJ/(kgK)')
    """
    return "".join(clean(spelling).replace("·", "").replace("\u22c5", "").split())
