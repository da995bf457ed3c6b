"""Compound units outside the table (N/mm^2, lbf/ft^2): pint with a small registry.

pint loads only here and only when the table has no such unit.
"""

import re
import tokenize
from functools import lru_cache
from importlib import resources

_SAFE = re.compile(r"[A-Za-zΩµμ_]+(?:(?:\^|\*\*)?-?[1-4])?"
                   r"(?:[*/ ·]\(?[A-Za-zΩµμ_]+(?:(?:\^|\*\*)?-?[1-4])?\)?){0,5}")
_POWER = re.compile(r"(?<=[A-Za-zΩµμ])(-?[1-4])")


@lru_cache(maxsize=1)
def registry():
    """Return the small pint registry of `compound.txt` [pint.UnitRegistry], built once.

    >>> f"{registry().Quantity(1, 'kPa').to('pascal').magnitude:.6g}"
    '1000'
    """
    import pint

    small = pint.UnitRegistry(None)
    small.load_definitions(str(resources.files("coldbench.quantity").joinpath("compound.txt")))
    return small


@lru_cache(maxsize=256)
def compound_factor(unit: str, target: str) -> float | None:
    """Return the factor from a compound unit to the SI expression `target`.

    Parameters
    ----------
    unit : str
        For example "N/mm^2".
    target : str
        pint expression of the SI unit, for example "pascal".

    Returns
    -------
    float or None
        None when the unit is unknown or has another dimension.

    Examples
    --------
    >>> f"{compound_factor('N/mm^2', 'pascal'):.6g}"
    '1e+06'
    >>> compound_factor('N/mm', 'pascal') is None
    True
    """
    if len(unit) > 40 or not _SAFE.fullmatch(unit):
        return None
    import pint

    expression = _POWER.sub(r"**\1", unit.replace("^", "").replace("**", "").replace("·", "*"))
    try:
        return float(registry().Quantity(1.0, expression).to(target).magnitude)
    except (pint.errors.PintError, AttributeError, ValueError, TypeError, SyntaxError,
            tokenize.TokenError):  # the last: a bracket that is not closed
        return None
