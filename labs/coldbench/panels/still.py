"""A panel without a kernel: HTML with the same SVG, the readings and the settings.

Every panel leaves it in an output of its own, after the live view; the style sheet hides it
there while the live view stands. It is what a page or a print made of a notebook shows.
`refresh_pictures` brings it up to the last setting the widget state of a saved notebook holds.
"""

from functools import cache
from html import escape
from pathlib import Path

from coldbench.panels.svg import tag

VIEW = "application/vnd.jupyter.widget-view+json"
STATE = "application/vnd.jupyter.widget-state+json"
STILL_NOTE = "This is how the panel stood. Open the notebook and run this cell to move it."


@cache
def style_sheet() -> str:
    """The panels' style sheet, also used without a kernel."""
    return (Path(__file__).parent / "browser" / "panel.css").read_text(encoding="utf-8")


def still_html(stage: dict, frame: dict) -> str:
    """The view as HTML [stage, frame: what `Panel` sends to the page]."""
    body = (
        tag("p", escape(stage["title"]), class_="cb-title"),
        tag("div", tag("div", *_pictures(stage, frame), class_="cb-pictures"),
            tag("div", tag("p", escape(frame["line"]), class_="cb-line"),
                _table(stage, frame["rows"]), _lists(frame.get("lists", ())), class_="cb-work"),
            class_="cb-body"),
        _settings(stage["controls"], frame["words"]),
        tag("p", STILL_NOTE, class_="cb-note"),
    )
    wide = ("cb-wide",) if "targets" in stage else ()
    look = " ".join(("cb-panel", "cb-still", *wide, stage.get("look", ""))).rstrip()
    group = tag("div", *body, class_=look, role="group", aria_label=stage["title"])
    return tag("style", style_sheet()) + group


def still_mark(model_id: str) -> dict:
    """Metadata of an output that holds the still view of a panel [model_id: of its widget].

    >>> still_mark("8f2c")
    {'coldbench': {'still': '8f2c'}}
    """
    return {"coldbench": {"still": model_id}}


def refresh_pictures(notebook) -> int:
    """Bring each panel's HTML in a notebook up to the last setting in its widget state.

    Parameters
    ----------
    notebook : notebook node or dict, changed in place

    Returns
    -------
    int
        number of outputs brought up to date
    """
    stored = notebook.get("metadata", {}).get("widgets", {}).get(STATE, {}).get("state", {})
    outputs = (o for cell in notebook["cells"] for o in cell.get("outputs", []))
    return sum(_refresh(output, stored) for output in outputs)


def _refresh(output: dict, stored: dict) -> bool:
    mark = output.get("metadata", {}).get("coldbench")
    model = mark.get("still") if isinstance(mark, dict) else None
    state = stored.get(model, {}).get("state", {}) if isinstance(model, str) else {}
    if "_stage" not in state or "_frame" not in state:
        return False
    output["data"]["text/html"] = still_html(state["_stage"], state["_frame"])
    return True


def _pictures(stage: dict, frame: dict) -> list[str]:
    return [_fill(drawing, *frame["pictures"][name]) for name, drawing in stage["pictures"]]


def _fill(drawing: str, foreground: str, description: str) -> str:
    """Put what moves into a still drawing, as the page does."""
    described = drawing.replace("<desc>…</desc>", tag("desc", escape(description)), 1)
    return described.replace('<g class="cb-front"></g>',
                             f'<g class="cb-front">{foreground}</g>', 1)  # fmt: skip


def _table(stage: dict, rows: list[list[str]]) -> str:
    head = tag("tr", *(tag("th", escape(name), scope="col") for name in stage["columns"]))
    lines = (
        tag("tr", tag("th", escape(row[0]), scope="row"), *(tag("td", escape(w)) for w in row[1:]))
        for row in rows
    )
    caption = tag("caption", escape(stage["caption"]))
    return tag("table", caption, tag("thead", head), tag("tbody", *lines), class_="cb-table")


def _lists(lists) -> str:
    """Whole lines under their headings."""
    blocks = (tag("div", tag("p", escape(heading), class_="cb-list-head"),
                  tag("ul", *(tag("li", escape(line)) for line in lines)), class_="cb-list")
              for heading, lines in lists)  # fmt: skip
    return tag("div", *blocks, class_="cb-lists") if lists else ""


def _settings(controls: list[dict], words: dict[str, str]) -> str:
    said = "; ".join(f"{c['label']}: {words[c['name']]}" for c in controls
                     if c["role"] != "button" and not c.get("group"))  # fmt: skip
    return said and tag("p", escape(f"Settings. {said}."), class_="cb-settings")
