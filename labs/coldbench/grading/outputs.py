"""Outputs of a learner's run: what may be kept, made inert.

Kept are plain text, error text and PNG pictures that really are PNG. HTML, scripts and SVG are
dropped: they would run in the browser of whoever reads the notebook.
"""

import re
from typing import Any

from nbformat.notebooknode import NotebookNode
from coldbench.grading.feedback_safe import safe_picture

_CONTROL = re.compile(r"\x1b\[[0-9;]*[A-Za-z]|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
MOST_OUTPUTS = 200  # of one cell


def plain_output(kind: str, **content: Any) -> NotebookNode:
    """Make a notebook output; nbformat's own maker validates each against its whole schema.

    >>> plain_output("stream", name="stdout", text="x")
    {'output_type': 'stream', 'name': 'stdout', 'text': 'x'}
    """
    if kind in ("display_data", "execute_result"):
        content = {"metadata": NotebookNode(), **content, "data": NotebookNode(content["data"])}
    return NotebookNode(output_type=kind, **content)


def clean_text(text: Any, most: int) -> str:
    """Make text printable and not longer than allowed [characters].

    >>> clean_text("a\\x1b[31mb\\x00", 10)
    'ab'
    """
    text = text if isinstance(text, str) else str(text)
    text = text.encode("utf-8", "replace").decode("utf-8")
    text = _CONTROL.sub("", text)
    return text if len(text) <= most else f"{text[:most]}\n[… cut: more than {most:,} characters]"


def clean_outputs(raw: Any, most: int) -> list[NotebookNode]:
    """Turn untrusted output descriptions into notebook outputs [most: characters kept]."""
    kept: list[NotebookNode] = []
    for item in raw[:MOST_OUTPUTS] if isinstance(raw, list) else []:
        if isinstance(item, dict) and most > 0:
            output = _clean_output(item, most)
            kept += [output] if output else []
            most -= _text_size(output) if output else 0
    if isinstance(raw, list) and len(raw) > MOST_OUTPUTS:
        kept.append(plain_output("stream", name="stdout", text="[… more was shown]\n"))
    return kept


def _text_size(output: NotebookNode) -> int:
    """Characters of text in an output; pictures have a limit of their own."""
    texts = (output.get("text", ""), output.get("data", {}).get("text/plain", ""),
             *output.get("traceback", ()))
    return sum(map(len, texts))


def _clean_output(item: dict[str, Any], most: int) -> NotebookNode | None:
    kind = item.get("kind")
    if kind == "stream":
        name = "stderr" if item.get("name") == "stderr" else "stdout"
        return plain_output("stream", name=name, text=clean_text(item.get("text", ""), most))
    if kind == "error":
        words = [clean_text(item.get(key, ""), 2_000) for key in ("ename", "evalue")]
        trace = [clean_text(item.get("trace", ""), min(most, 8_000))]
        return plain_output("error", ename=words[0], evalue=words[1], traceback=trace)
    if kind == "display":
        data = _clean_bundle(item.get("data"), most)
        return plain_output("display_data", data=data) if data else None
    return None


def _clean_bundle(data: Any, most: int) -> dict[str, str]:
    kept: dict[str, str] = {}
    if not isinstance(data, dict):
        return kept
    # Written anew: the text that came could hold markup between the letters of its code.
    if picture := safe_picture(data.get("image/png")):
        kept["image/png"] = picture
    if isinstance(data.get("text/plain"), str):
        kept["text/plain"] = clean_text(data["text/plain"], most)
    return kept

