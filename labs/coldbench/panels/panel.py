"""`Panel`: the base of every interactive view. Python computes, the browser draws.

How a panel is made: a subclass gives a title, starting settings, controls, and, from the
settings, a state; from the state it gives pictures, one line in words, and a table.
Everything the page can do, Python can do: `panel.set(…)` and `panel.readings()`.

What travels: the page sends `_request` (its own name, a running number, and each changed
control not yet answered). Python answers with one `_frame`, which names the request it
answers. The page moves its controls back only when nothing newer of its own is waiting, so
fast keys never jump back. `_stage` (controls, still parts) is sent only when it changed.

Without a kernel the notebook holds the last `_stage` and `_frame` as widget state. Each panel
leaves two outputs: the live view, and after it the same view as HTML (`still.py`). Converters
prefer a live view to everything else in its output and show nothing when they cannot run it;
so the picture stands by itself, and the style sheet hides it behind a live view. No PNG is
added: where a notebook is not trusted its SVG is left out, but the readings are there as text.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import anywidget
import traitlets

from coldbench.errors import InputError
from coldbench.panels.controls import Control, Slider
from coldbench.panels.picture import Picture
from coldbench.panels.shown import Shown, running_cell
from coldbench.panels.still import VIEW, still_html, still_mark

BROWSER = Path(__file__).parent / "browser"
_shown = Shown()


@dataclass(frozen=True)
class Table:
    """Readings as rows of words; the first column names the row."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Panel(anywidget.AnyWidget):
    """Base of the interactive views; see the module for how a subclass is made."""

    _esm = BROWSER / "panel.js"
    _css = BROWSER / "panel.css"
    _stage = traitlets.Dict().tag(sync=True)
    _frame = traitlets.Dict().tag(sync=True)
    _request = traitlets.Dict().tag(sync=True, echo_update=False)

    title = "Panel"
    look = ""  # a style class of its own
    # What a subclass provides -----------------------------------------------------------

    def controls(self, settings: Mapping) -> tuple[Control, ...]:
        """The controls for these settings, in reading order."""

    def compute(self, settings: Mapping):
        """Everything shown, computed from the settings (SI)."""

    def targets(self) -> dict | None:
        """Points of a picture to reach by mouse and keys, if it has any: picture, label, help,
        press (name of a button), points [value, words, x, y]; they set `red` and `black`."""

    def pictures(self, state) -> tuple[Picture, ...]:
        """The drawings of a state."""

    def line(self, state) -> str:
        """The state in one short line, also read aloud."""

    def table(self, state) -> Table:
        """The state as a table."""

    def to_copy(self, state) -> tuple[str, str] | None:
        """What a button puts on the clipboard (words of the button, text); None: no button."""
        return None

    def lists(self, state) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What is said in whole lines beside the table: (heading, lines); none by default."""
        return ()

    def values(self, state) -> dict[str, float | str | None]:
        """The state as plain values, names carrying the unit."""

    # What everybody uses ----------------------------------------------------------------

    def __init__(self, settings: Mapping, changes: Mapping):
        """Start from settings [SI, always valid] and apply changes as `set` does."""
        super().__init__()
        self._settings = dict(settings)
        self._adopt({name: (value, "") for name, value in changes.items()})
        self._draw(None)
        self.observe(self._answer, "_request")

    def set(self, **changes) -> None:
        """Move controls: a number in the shown unit, or a text with its unit.

        Raises
        ------
        InputError : unknown control, or a value outside its range; nothing is moved then
        """
        self._adopt({name: (value, "") for name, value in changes.items()})
        self._draw(None)

    @property
    def settings(self) -> dict:
        """The settings now (SI)."""
        return dict(self._settings)

    def readings(self) -> dict[str, float | str | None]:
        """What the panel shows, as plain values; names carry the unit."""
        return self.values(self._state)

    def open(self) -> None:
        """Make the panel answer the page, after `close` again."""
        self.layout.open()
        super().open()
        self.__dict__.pop("_repr_mimebundle_", None)  # `close` had put it out of use

    def close(self) -> None:
        """Take the panel off the page; displayed once more, it opens again as it stood."""
        super().close()
        self.layout.close()

    def html(self) -> str:
        """The panel as it stands, as HTML with inline SVG and the readings."""
        return still_html(self._stage, self._frame)

    # How it works -----------------------------------------------------------------------

    def _adopt(self, changes: Mapping) -> None:
        """Take over changes {name: (value, unit)} all together, or raise and take none."""
        wanted = dict(self._settings)
        known = {control.name: control for control in self.controls(wanted)}
        # Choices first: they decide the units and ranges of the sliders.
        ordered = sorted(changes, key=lambda name: isinstance(known.get(name), Slider))
        for name in ordered:
            known = {control.name: control for control in self.controls(wanted)}
            if name not in known:
                accepted = ", ".join(known)
                raise InputError(f"{self.title} has no control {name!r}; accepted: {accepted}")
            wanted[name] = known[name].clean(*changes[name])
        for control in self.controls(wanted):
            wanted[control.name] = control.held(wanted[control.name])
        self._state = self.compute(wanted)
        self._settings = wanted

    def _answer(self, change) -> None:
        """Answer a request of the page; a refused change is told, not raised."""
        request, message = change["new"], ""
        try:
            changes = {name: (sent["value"], sent.get("unit", ""))
                       for name, sent in request.get("changes", {}).items()}  # fmt: skip
            self._adopt(changes)
        except InputError as error:
            message = str(error)
        except (AttributeError, KeyError, TypeError):
            message = "the page sent something that is not a change of a control"
        self._draw([request.get("page"), request.get("number")], message)

    def _draw(self, answers: list | None, message: str = "") -> None:
        """Send the state to the page."""
        controls = self.controls(self._settings)
        pictures, table = self.pictures(self._state), self.table(self._state)
        stage = {
            "title": self.title,
            "controls": [c.declaration(self._settings[c.name]) | {"group": c.group}
                         for c in controls],
            # A list: a saved notebook sorts the names of a dict.
            "pictures": [[p.name, p.stage()] for p in pictures],
            "caption": table.caption,
            "columns": list(table.columns),
            "look": self.look,
        }
        if (targets := self.targets()) is not None:
            stage["targets"] = targets
        frame = {
            "answers": answers,
            "message": message,
            "values": {c.name: c.value(self._settings[c.name]) for c in controls},
            "words": {c.name: c.words(self._settings[c.name]) for c in controls},
            "pictures": {p.name: [p.foreground, p.description] for p in pictures},
            "line": self.line(self._state),
            "copy": list(self.to_copy(self._state) or ()),
            "rows": [list(row) for row in table.rows],
            "lists": [[heading, list(lines)] for heading, lines in self.lists(self._state)],
        }  # fmt: skip
        with self.hold_sync():
            if stage != self._stage:
                self._stage = stage
            self._frame = frame

    def _ipython_display_(self, **options) -> None:
        """Display the live view, and the still one for where no live view can be."""
        from IPython.display import display

        self.open()
        _shown.note(self, *running_cell())
        data, _ = self._repr_mimebundle_()
        # Empty HTML: where the live view cannot be shown, nothing stands in its place.
        display({VIEW: data[VIEW], "text/html": "", "text/plain": data["text/plain"]}, raw=True)
        display({"text/html": data["text/html"], "text/plain": ""}, raw=True,
                metadata=still_mark(self.model_id))

    def _repr_mimebundle_(self, **options):
        bundle = super()._repr_mimebundle_(**options)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        words = f"{self.title}. {self._frame['line']}"
        return data | {"text/plain": words, "text/html": self.html()}, metadata
