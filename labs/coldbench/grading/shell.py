"""A bare IPython shell that keeps what cells print, show and raise."""

import base64
import sys
from types import TracebackType
from typing import Any

from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import DisplayPublisher
from IPython.core.interactiveshell import InteractiveShell
from traitlets.config import Config


class _Publisher(DisplayPublisher):
    """Keeps displayed objects instead of printing them."""

    kept: list[dict[str, Any]]

    def publish(self, data: dict[str, Any], metadata: Any = None, **ignored: Any) -> None:
        """Keep the parts of a display that a grader reads."""
        self.kept.append({"kind": "display", "data": _plain_bundle(data)})

    def clear_output(self, wait: bool = False) -> None:
        """Clearing is for live screens; nothing is lost here."""


class _Hook(DisplayHook):
    """Keeps the value of a cell's last expression."""

    def write_format_data(self, format_dict: dict[str, Any], md_dict: Any = None) -> None:
        """Keep a formatted value."""
        self.shell.display_pub.kept.append(
            {"kind": "display", "data": _plain_bundle(format_dict)})

    def write_output_prompt(self) -> None:
        """No prompt is wanted."""

    def finish_displayhook(self) -> None:
        """Nothing is written."""


class _Shell(InteractiveShell):
    displayhook_class = _Hook
    display_pub_class = _Publisher

    def showtraceback(self, *place: Any, **how: Any) -> None:
        """Show an error; of a very deep one only both ends, which are told in no time."""
        _shorten(sys.exc_info()[2])
        super().showtraceback(*place, **how)

    def enable_gui(self, gui: Any = None) -> None:
        """There is no screen; pictures are kept by the inline back end."""

    def _showtraceback(self, etype: Any, evalue: Any, stb: list[str]) -> None:
        self.display_pub.kept.append({
            "kind": "error", "ename": getattr(etype, "__name__", str(etype)),
            "evalue": _said(evalue, 2000), "trace": "\n".join(stb)[-8000:]})


def _shorten(trace: TracebackType | None, most: int = 40) -> None:
    """Leave out the middle of a long chain of calls."""
    chain = []
    while trace is not None:
        chain.append(trace)
        trace = trace.tb_next
    if len(chain) > most:
        chain[most // 2 - 1].tb_next = chain[-most // 2]


def _plain_bundle(data: dict[str, Any]) -> dict[str, str]:
    kept: dict[str, str] = {}
    picture = data.get("image/png")
    if isinstance(picture, bytes):
        picture = base64.b64encode(picture).decode()
    if isinstance(picture, str):
        kept["image/png"] = picture
    if isinstance(data.get("text/plain"), str):
        kept["text/plain"] = data["text/plain"]
    return kept


def _said(error: Any, most: int) -> str:
    """What an error says; an error of a learner's own may fail even at that."""
    try:
        return str(error)[:most]
    except BaseException:
        return "(it cannot be shown)"


class _Cut:
    """A text stream that keeps its first characters and counts the rest."""

    encoding = "utf-8"

    def __init__(self, most: int):
        self.most, self.parts, self.size = most, [], 0

    def write(self, text: str) -> int:
        if self.size < self.most:
            self.parts.append(text[: self.most - self.size])
        self.size += len(text)
        return len(text)

    def flush(self) -> None:
        return None

    def isatty(self) -> bool:
        return False

    def text(self) -> str:
        return "".join(self.parts) + ("\n[… more was printed]" if self.size > self.most else "")


class CellShell:
    """Runs one cell after another and hands over its outputs.

    most [characters of printed text kept of a cell].
    """

    def __init__(self, most: int = 200_000):
        quiet = Config()
        quiet.HistoryManager.enabled = False
        quiet.InteractiveShell.colors = "nocolor"
        quiet.InteractiveShell.xmode = "Context"
        quiet.InteractiveShell.cache_size = 0
        quiet.InteractiveShell.ignore_cwd = True  # the notebook's folder is last on the path
        self.most = most
        self._shell = _Shell.instance(config=quiet)
        self._publisher = self._shell.display_pub
        self._publisher.kept = []
        self._streams: list[dict[str, Any]] = []
        self._shell.run_line_magic("matplotlib", "inline")

    def run(self, source: str) -> tuple[str, str]:
        """Run a cell; returns ("ok" or "error", the error's name and text).

        An error made to end the cell (an attribute `stops` that is true) is raised again.
        """
        out, err = _Cut(self.most), _Cut(self.most)
        sys.stdout, sys.stderr = out, err
        try:
            result = self._shell.run_cell(source, store_history=True)
        finally:
            sys.stdout, sys.stderr = sys.__stdout__, sys.__stderr__
            self._streams = [{"kind": "stream", "name": name, "text": stream.text()}
                             for name, stream in (("stdout", out), ("stderr", err)) if stream.size]
        error = result.error_before_exec or result.error_in_exec
        if getattr(error, "stops", False):
            del self._publisher.kept[-1:]
            raise error
        # Asked for None: an error may call itself false, or even equal to nothing.
        return ("ok", "") if error is None else (
            "error", f"{type(error).__name__}: {_said(error, 300)}"[:300])

    def take_outputs(self) -> list[dict[str, Any]]:
        """Hand over what the last cell printed and showed."""
        outputs, self._publisher.kept, self._streams = (
            [*self._streams, *self._publisher.kept], [], [])
        return outputs


__all__ = ["CellShell"]
