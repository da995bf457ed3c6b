"""A fault tree in the making: boxes with numbers, gates that may still be empty.

A draft never changes: each step makes a new one, so that undoing is going back.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from coldbench.diagnosis.tree.bdd import diagram_of
from coldbench.diagnosis.tree.cut_sets import CutSets
from coldbench.errors import InputError

MOST_BOXES = 60
TOP = 1


@dataclass(frozen=True)
class Place:
    """A box: an event, or a gate with the numbers of the boxes under it."""

    kind: str  # "event", "or", "and", "atleast"
    event: str = ""
    needed: int | None = None
    children: tuple[int, ...] = ()

    @property
    def gate_words(self) -> str:
        """The gate's kind as people say it."""
        if self.kind == "atleast":
            return f"{self.needed} of {len(self.children)}"
        return self.kind.upper()


@dataclass(frozen=True)
class Draft:
    """Boxes by number; 1 is the top gate.

    >>> draft, _ = Draft().with_event(1, "fuse blown")
    >>> draft.plain()
    ['or', 'fuse blown']
    """

    places: Mapping[int, Place] = None
    last: int = TOP

    def __post_init__(self) -> None:
        if self.places is None:
            object.__setattr__(self, "places", {TOP: Place("or")})

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Numbers of the boxes as a reader meets them, each before what hangs under it."""
        found, waiting = [], [TOP]
        while waiting:
            key = waiting.pop()
            found.append(key)
            waiting.extend(reversed(self.places[key].children))
        return tuple(found)

    def parent(self, key: int) -> int:
        """The gate a box hangs under; the top is its own."""
        return next((k for k, p in self.places.items() if key in p.children), TOP)

    def with_gate(self, key: int, kind: str, needed: int | None) -> "Draft":
        """Change how a gate works."""
        place = self.places[key]
        needed = min(max(needed or 2, 1), max(len(place.children), 2))
        changed = replace(place, kind=kind, needed=needed if kind == "atleast" else None)
        return replace(self, places={**self.places, key: changed})

    def with_event(self, at: int, event: str) -> tuple["Draft", int]:
        """Put a cause under a gate, or beside a cause; what was selected stays selected.

        Raises InputError when it stands there already, or the tree is full.
        """
        gate = self._gate(at)
        if any(self.places[child].event == event for child in self.places[gate].children):
            raise InputError(f"{event!r} stands under this gate already")
        return self._with(gate, Place("event", event)), at

    def with_branch(self, at: int) -> tuple["Draft", int]:
        """Put an empty gate of the other kind under a gate and select it."""
        gate = self._gate(at)
        kind = "and" if self.places[gate].kind == "or" else "or"
        made = self._with(gate, Place(kind))
        return made, made.last

    def without(self, key: int) -> tuple["Draft", int]:
        """Take a box away with all that hangs under it, and select the gate above; the top
        gate is emptied."""
        if key == TOP:
            return replace(self, places={TOP: replace(self.places[TOP], children=())}), TOP
        gate, gone, waiting = self.parent(key), set(), [key]
        while waiting:
            gone.add(here := waiting.pop())
            waiting.extend(self.places[here].children)
        kept = {k: p for k, p in self.places.items() if k not in gone}
        left = tuple(child for child in kept[gate].children if child != key)
        kept[gate] = replace(kept[gate], children=left)
        made = replace(self, places=kept)
        return made.with_gate(gate, kept[gate].kind, kept[gate].needed), gate

    def _gate(self, at: int) -> int:
        return self.parent(at) if self.places[at].kind == "event" else at

    def _with(self, gate: int, place: Place) -> "Draft":
        if len(self.places) >= MOST_BOXES:
            raise InputError(f"the tree is full: {MOST_BOXES} boxes")
        key = self.last + 1
        above = replace(self.places[gate], children=(*self.places[gate].children, key))
        return replace(self, places={**self.places, gate: above, key: place}, last=key)

    def plain(self, key: int = TOP) -> list:
        """The tree as nested lists; an empty gate has its first word alone."""
        place = self.places[key]
        word = f"{place.needed} of" if place.kind == "atleast" else place.kind
        return [word, *(self.places[child].event or self.plain(child)
                        for child in place.children)]

    def cut_sets(self, limit: int) -> tuple[tuple[tuple[str, ...], ...], int | None, str]:
        """The smallest minimal cut sets, how many there are, or why they cannot be told."""
        from coldbench.worksheet.tree_data import tree_of

        empty = [key for key in self.order
                 if self.places[key].kind != "event" and not self.places[key].children]
        if empty:
            return (), None, (f"gate {empty[0]} has nothing under it." if empty[0] != TOP
                              else "the top gate has nothing under it.")
        try:
            diagram, (top,) = diagram_of(tree_of(self.plain()))
            sets = CutSets(diagram, top)
            return tuple(sets.smallest(limit)), sets.count, ""
        except InputError as error:
            return (), None, f"{error}."


def draft_of(tree) -> Draft:
    """A draft of a tree as plain data; None gives an empty OR gate.

    >>> draft_of(["or", "a", ["and", "b", "c"]]).plain()
    ['or', 'a', ['and', 'b', 'c']]
    """
    from coldbench.worksheet.tree_data import plain_of, tree_of

    if tree is None:
        return Draft()
    read = tree_of(tree)
    if len(read.gates) + sum(len(gate.inputs) for gate in read.gates.values()) > 2 * MOST_BOXES:
        raise InputError(f"the tree is too large for the panel: at most {MOST_BOXES} boxes")
    return _grown(plain_of(read))


def _grown(top: list) -> Draft:
    from coldbench.worksheet.tree_data import gate_rule

    draft, waiting = Draft({TOP: Place("or")}, TOP), [(TOP, top)]
    while waiting:
        key, written = waiting.pop(0)
        for one in written[1:]:
            draft = draft._with(key, Place("or") if isinstance(one, list) else Place("event", one))
            if isinstance(one, list):
                waiting.append((draft.last, one))
        kind, needed, _ = gate_rule(written[0])
        draft = draft.with_gate(key, kind, needed)
    return draft
