"""Words about units, as people write them: "K, °C or °F", "an absolute pressure"."""

from collections.abc import Sequence

from coldbench.errors import InputError
from coldbench.quantity import KINDS, normalise_unit
from coldbench.quantity.spelling import clean, squeeze

MOST_UNITS = 5
_SIGNS = {("psig", "gauge pressure"): "psi"}
_WHAT = {"absolute pressure": "pressure", "gauge pressure": "pressure",
         "pressure difference": "pressure", "temperature difference": "temperature"}


def a(noun: str) -> str:
    """Put the article before a noun.

    >>> a("absolute pressure"), a("gauge pressure")
    ('an absolute pressure', 'a gauge pressure')
    """
    return f"{'an' if noun[0] in 'aeio' else 'a'} {noun}"


def unit_sign(unit: str, kind: str) -> str:
    """Write a unit for people [unit: an accepted spelling].

    >>> unit_sign("degF", "temperature"), unit_sign("psig", "gauge pressure")
    ('°F', 'psi')
    """
    name = normalise_unit(unit, kind)
    return _SIGNS.get((name, kind)) or next(
        (u.symbol for u in KINDS[kind].units if u.name == name), name)


def usual_units(kind: str, preferred: str = "") -> tuple[str, ...]:
    """The units to offer a learner, her question's own first; at most five.

    >>> usual_units("temperature difference", "K"), usual_units("gauge pressure", "bar")
    (('K', '°C', '°F'), ('bar', 'kPa', 'MPa', 'psi', 'Pa'))
    """
    signs = [unit_sign(preferred, kind)] if preferred else []
    signs += [unit_sign(u.name, kind) for u in KINDS[kind].units
              if "vac" not in u.name and u.name != "degR"]
    return tuple(dict.fromkeys(sign for sign in signs if sign))[:MOST_UNITS]


def either(words: Sequence[str]) -> str:
    """Join words with "or".

    >>> either(["K", "°C", "°F"])
    'K, °C or °F'
    """
    return " or ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


def check_unit(unit: str, kind: str, preferred: str = "") -> str:
    """Give a unit its canonical spelling; raises InputError in words for a learner.

    >>> check_unit("deg F", "temperature")
    'degF'
    >>> check_unit("kPa", "temperature")
    Traceback (most recent call last):
    coldbench.errors.InputError: kPa is a unit of pressure, but a temperature is needed; \
use °C, °F or K
    """
    use = f"use {either(usual_units(kind, preferred))}"
    if because := KINDS[kind].refusals.get(squeeze(clean(unit)).lower()):
        because = because.replace(" is wanted here", " is needed")
        raise InputError(f"{unit} {because}" + ("" if ";" in because else f"; {use}"))
    if not _knows(kind, unit) and (owner := _other_kind(unit, kind)):
        raise InputError(f"{unit} is a unit of {owner}, but {a(kind)} is needed; {use}")
    try:
        return normalise_unit(unit, kind)
    except InputError:
        raise InputError(f"{unit!r} is not a known unit of {kind}; {use}") from None


def _knows(kind: str, unit: str) -> bool:
    spelling = squeeze(clean(unit)).lower()
    return any(known.lower() == spelling for known in KINDS[kind].by_spelling)


def _other_kind(unit: str, wanted: str) -> str | None:
    """Name the kind of quantity a unit belongs to, when it is none of the one wanted."""
    spelling = squeeze(clean(unit))
    owner = next((kind.name for kind in KINDS.values() if spelling in kind.by_spelling), None)
    words = _WHAT.get(owner, owner)
    return owner if words == _WHAT.get(wanted, wanted) else words
