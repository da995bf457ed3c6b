"""How a bench stands while it is measured: state, what is unplugged, boxed, replaced."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError


@dataclass(frozen=True)
class Standing:
    """How the bench stands.

    state [operating state]; unplugged [parts and wires]; boxes [(sensor input, value in its
    unit) pairs: a sensor box is in the sensor's place]; replaced [parts put right].
    """

    state: str
    unplugged: tuple[str, ...] = ()
    boxes: tuple[tuple[str, float], ...] = ()
    replaced: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The standing as plain data, short: what is not there is left out."""
        more = {"unplugged": list(self.unplugged), "boxes": dict(self.boxes),
                "replaced": list(self.replaced)}
        return {"state": self.state, **{name: value for name, value in more.items() if value}}

    @property
    def words(self) -> str:
        """How the bench stands, in words."""
        more = [f"{', '.join(self.unplugged)} unplugged"] if self.unplugged else []
        more += [f"box at {name} {value:g}" for name, value in self.boxes]
        more += [f"{', '.join(self.replaced)} replaced"] if self.replaced else []
        return ", ".join([self.state, *more])


def standing_of(table: Any) -> Standing:
    """Read a standing from untrusted plain data; raises InputError when it is none.

    >>> standing_of({"state": "off", "unplugged": ["M1"]}).words
    'off, M1 unplugged'
    """
    wrong = InputError("this is not how a bench stands")
    if not isinstance(table, Mapping) or set(table) - {"state", "unplugged", "boxes", "replaced"}:
        raise wrong
    lists = [table.get(name, []) for name in ("unplugged", "replaced")]
    boxes = table.get("boxes", {})
    sound = (isinstance(table.get("state"), str) and isinstance(boxes, Mapping)
             and all(isinstance(one, list) and all(isinstance(name, str) for name in one)
                     for one in lists)
             and all(isinstance(name, str) and type(value) in (int, float)
                     for name, value in boxes.items()))
    if not sound:
        raise wrong
    unplugged, replaced = map(tuple, lists)
    return Standing(table["state"], unplugged,
                    tuple((name, float(value)) for name, value in boxes.items()), replaced)
