"""Substitute values: what a control unit works with when it does not trust an input.

While an input is outside its window but not yet judged failed, the last good value holds. Once
failed, a fixed substitute takes its place until the input is judged sound again. Common
practice; vehicles differ.
"""

from dataclasses import dataclass

SOURCES = ("measured", "last good value", "substitute")
"""Where a believed value comes from."""


@dataclass(frozen=True)
class Belief:
    """A value a control unit works with.

    Parameters
    ----------
    value : float
        Value [SI unit of the quantity].
    source : str
        One of `SOURCES`.
    """

    value: float
    source: str


def believe(measured: float | None, verdict: str, last_good: float | None,
            substitute: float) -> Belief:
    """Return what the control unit works with.

    Parameters
    ----------
    measured : float or None
        Value inside the window, None outside it [SI].
    verdict : str
        From `WindowState.verdict`.
    last_good : float or None
        Last value believed as measured, None if there was none [SI].
    substitute : float
        Substitute value [SI].

    Returns
    -------
    Belief

    Examples
    --------
    >>> believe(298.0, "passed", 297.0, 293.15).source
    'measured'
    >>> believe(None, "passed", 297.0, 293.15).source, believe(None, "above", 297.0, 293.15).value
    ('last good value', 293.15)
    """
    if verdict in ("below", "above"):
        return Belief(substitute, "substitute")
    if measured is not None:
        return Belief(measured, "measured")
    if last_good is not None:
        return Belief(last_good, "last good value")
    return Belief(substitute, "substitute")
