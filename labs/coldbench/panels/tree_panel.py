"""Build a fault tree: put causes and gates under gates, and see cut sets as it grows.

In a notebook:

    panel = TreePanel(["fuse blown", "fan 1 open", "fan 2 open"], top="no condenser air")
    panel.tree          # plain data for sheet.answer(…)

By keyboard, on the drawing: arrow keys go from box to box, Enter selects one, c puts the cause
chosen in the menu under it, g a new gate; o, a and k make the gate OR, AND or "k of n"; Delete
takes away, u undoes. The panel writes the tree as a line to copy into the answer cell: what is
answered is that line, so that it is still there when the notebook is opened again.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.panels.controls import Button, Choice
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.tree_diagram import MARGIN, drawn_branch
from coldbench.panels.tree_draft import Draft, draft_of
from coldbench.panels.tree_layout import BOX, SYMBOL, Layout, Node, layout
from coldbench.panels.tree_symbols import frame
from coldbench.panels.tree_words import gate_sentence, name_lines

GATES = (("or", "OR: one is enough"), ("and", "AND: all together"), ("atleast", "k of n"))
_BUTTONS = (("put", "Put this cause under the gate"), ("branch", "Put a new gate under the gate"),
            ("remove", "Take the selected box away"), ("undo", "Undo"))  # fmt: skip
_KEYS = {"c": "put", "g": "branch", "Delete": "remove", "Backspace": "remove", "u": "undo",
         "o": ["gate", "or"], "a": ["gate", "and"], "k": ["gate", "atleast"]}  # fmt: skip
_HELP = ("On the drawing: arrow keys go from box to box, Enter or a click selects. c puts the "
         "cause from the menu under the gate, g a new gate; o, a, k make it OR, AND, k of n; "
         "Delete takes the box away, u undoes.")  # fmt: skip
_SHOWN = 12  # cut sets in the table


@dataclass(frozen=True)
class TreeState:
    """What is shown: the draft, what is selected, and its cut sets or why there are none."""

    draft: Draft
    selected: int
    laid: Layout
    sets: tuple[tuple[str, ...], ...]
    count: int | None
    why: str


class TreePanel(Panel):
    """A fault tree to build.

    Parameters
    ----------
    events : causes to choose from
    top : words of the top event
    tree : a tree to start from, as plain data; an empty OR gate if left out
    changes : starting settings, named as the controls: selected [number of a box], gate ["or",
        "and", "atleast"], needed, cause

    Raises
    ------
    InputError : no causes, a tree that is none, a value that a control does not have
    """

    title = "Build a fault tree"

    def __init__(self, events: Iterable[str], top: str = "top event", tree=None, **changes):
        self.events = tuple(dict.fromkeys(map(str, events)))
        if not self.events:
            raise InputError("a fault tree needs causes: TreePanel([…], top=…)")
        self.top, self._named = str(top), set()
        self._history: tuple[Draft, ...] = (draft_of(tree),)
        start = {"selected": "1", "gate": self._draft.places[1].kind, "needed": "2",
                 "cause": self.events[0], **{name: 0 for name, _ in _BUTTONS}}  # fmt: skip
        self._applied = dict(start)
        super().__init__(start, changes)

    @property
    def _draft(self) -> Draft:
        return self._history[-1]

    @property
    def tree(self) -> list:
        """The tree as plain data: nested lists for `sheet.answer`."""
        return self._draft.plain()

    def controls(self, settings):
        """What is selected and how its gate works first, then what to put under it."""
        draft = self._draft
        boxes = tuple((str(key), f"{key}: {self._words(draft, key)}") for key in draft.order)
        # A box that has just gone may still be named by the settings.
        place = draft.places.get(int(settings["selected"]), draft.places[1])
        gates: tuple = ()
        if place.kind != "event":
            gates = (Choice("gate", "The selected gate", GATES),)
            if settings["gate"] == "atleast":
                most = max(len(place.children), 2)
                counts = tuple((str(k), f"{k} of {len(place.children)}")
                               for k in range(1, most + 1))  # fmt: skip
                gates += (Choice("needed", "How many are enough", counts, menu=True),)
        return (Choice("selected", "Selected box", boxes, menu=True), *gates,
                Choice("cause", "Cause", tuple((e, e) for e in self.events), menu=True),
                *(Button(name, words) for name, words in _BUTTONS))  # fmt: skip

    def targets(self):
        """The boxes, for mouse and keys on the drawing."""
        draft = self._draft
        return {
            "picture": "tree", "label": "Boxes of the tree", "help": _HELP, "press": "put",
            "sets": ["selected"], "marks": ["selected"], "keys": _KEYS,
            "points": [[str(p.node.key), f"Box {p.node.key}, {self._words(draft, int(p.node.key))}",
                        p.x, p.y + (p.height + SYMBOL) / 2, BOX + 6, p.height + SYMBOL + 10]
                       for p in self._state.laid.placed.values()],
        }  # fmt: skip

    def _adopt(self, changes) -> None:
        """Remember which controls were moved, and keep the tree when one of them is refused."""
        history, applied, self._named = self._history, self._applied, set(changes)
        try:
            super()._adopt(changes)
        except InputError:
            self._history, self._applied = history, applied
            raise

    def compute(self, settings) -> TreeState:
        """Change the tree as the moved controls say, then work out its cut sets."""
        selected = self._changed(settings)
        place = self._draft.places[selected]
        settings["selected"] = str(selected)
        if place.kind != "event":
            settings["gate"] = place.kind
        settings["needed"] = str(min(place.needed or 2, max(len(place.children), 2)))
        self._applied = dict(settings)
        sets, count, why = self._draft.cut_sets(_SHOWN)
        laid = layout(self._nodes(1), MARGIN, MARGIN)
        return TreeState(self._draft, selected, laid, sets, count, why)

    def _changed(self, settings) -> int:
        """Carry out what was asked; returns what is selected afterwards."""
        draft, selected = self._draft, int(settings["selected"])
        pressed = {name for name, _ in _BUTTONS if settings[name] > self._applied[name]}
        place = draft.places[selected]
        if self._named & {"gate", "needed"} and place.kind != "event":
            kind = settings["gate"] if "gate" in self._named else place.kind
            needed = int(settings["needed"]) if "needed" in self._named else place.needed
            draft = draft.with_gate(selected, kind, needed)
        if "branch" in pressed:
            draft, selected = draft.with_branch(selected)
        if "put" in pressed:
            draft, selected = draft.with_event(selected, settings["cause"])
        if "remove" in pressed:
            draft, selected = draft.without(selected)
        if draft is not self._draft:
            self._history = (*self._history[-50:], draft)
        if "undo" in pressed and len(self._history) > 1:
            self._history = self._history[:-1]
        return selected if selected in self._draft.places else 1

    def _words(self, draft: Draft, key: int) -> str:
        place = draft.places[key]
        if place.kind == "event":
            return place.event
        name = self.top if key == 1 else f"gate {key}"
        return f"{name} ({place.gate_words})"

    def _nodes(self, key: int) -> Node:
        draft, place = self._draft, self._draft.places[key]
        if place.kind == "event":
            return Node(str(key), "event", name_lines(place.event))
        name = self.top if key == 1 else f"gate {key}"
        sign = {"or": "≥1", "and": "&"}.get(place.kind, f"{place.needed}/{len(place.children)}")
        return Node(str(key), place.kind, name_lines(name), sign,
                    "" if place.children else "nothing yet",
                    children=tuple(map(self._nodes, draft.places[key].children)))  # fmt: skip

    def pictures(self, state: TreeState):
        """The tree with a frame around the selected box."""
        laid = state.laid
        front = frame(laid.placed[str(state.selected)], "cb-ft-chosen")
        said = f"{self._told(state.draft)} {self.line(state)}"
        return (Picture("tree", round(laid.width + 2 * MARGIN), round(laid.height + 2 * MARGIN),
                        f"Fault tree: {self.top}", said, drawn_branch(laid), front),)  # fmt: skip

    def _told(self, draft: Draft) -> str:
        def name(key: int) -> str:
            place = draft.places[key]
            if place.kind == "event":
                return place.event
            return self.top if key == 1 else f"gate {key}"

        gates = ((key, p) for key in draft.order if (p := draft.places[key]).kind != "event")
        return " ".join(gate_sentence(name(key), p.kind, p.needed, [*map(name, p.children)])
                        if p.children else f"“{name(key)}” has nothing under it yet."
                        for key, p in gates)  # fmt: skip

    def to_copy(self, state: TreeState) -> tuple[str, str] | None:
        """The tree as it stands in an answer cell, once it is complete."""
        return None if state.count is None else ("Copy the tree", _code(state))

    def line(self, state: TreeState) -> str:
        """The cut sets counted, and the tree as a line to copy."""
        code = _code(state)
        if state.count is None:
            return f"Not complete\n{state.why[:1].upper()}{state.why[1:]}\n{code}"
        sets = "set" if state.count == 1 else "sets"
        return f"{state.count} minimal cut {sets}\nFor your answer, copy:\n{code}"

    def table(self, state: TreeState) -> Table:
        """The minimal cut sets, smallest first."""
        rows = [(str(i), " + ".join(one)) for i, one in enumerate(state.sets, start=1)]
        if state.count and state.count > len(rows):
            rows.append(("…", f"{state.count - len(rows)} more"))
        return Table("Minimal cut sets, smallest first", ("No.", "Enough together"), tuple(rows))

    def values(self, state: TreeState):
        """The tree as text, its number of minimal cut sets, and what is selected."""
        return {"tree": _code(state),
                "minimal_cut_sets": state.count,
                "selected": self._words(state.draft, state.selected)}  # fmt: skip

    def build(self, tree) -> None:
        """Take a whole tree, as plain data; `undo` brings back the one before.

        Raises
        ------
        InputError : it is no tree, or a cause is not one of the panel's
        """
        draft = draft_of(tree)
        for place in draft.places.values():
            if place.kind == "event" and place.event not in self.events:
                raise InputError(f"{place.event!r} is not one of the causes: "
                                 f"{'; '.join(self.events)}")
        self._history = (*self._history[-50:], draft)
        self.set(selected="1")


def _code(state: TreeState) -> str:
    return json.dumps(state.draft.plain(), ensure_ascii=False)
