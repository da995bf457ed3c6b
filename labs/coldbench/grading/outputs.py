"""Outputs of a learner's run: what may be kept, made inert.

Kept are plain text, error text and PNG pictures that really are PNG. HTML, scripts and SVG are
dropped: they would run in the browser of whoever reads the notebook.
"""

import base64
import binascii
import re
from typing import Any

from nbformat.notebooknode import NotebookNode
from nbformat.v4 import new_output

_PNG = b"\x89PNG\r\n\x1a\n"
_CONTROL = re.compile(r"\x1b\[[0-9;]*[A-Za-z]|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
LARGEST_PICTURE_BYTES = 2_000_000


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
    for item in raw if isinstance(raw, list) else []:
        if isinstance(item, dict) and most > 0:
            output = _clean_output(item, most)
            kept += [output] if output else []
            most -= len(str(output.get("text", ""))) if output else 0
    return kept


def _clean_output(item: dict[str, Any], most: int) -> NotebookNode | None:
    kind = item.get("kind")
    if kind == "stream":
        name = "stderr" if item.get("name") == "stderr" else "stdout"
        return new_output("stream", name=name, text=clean_text(item.get("text", ""), most))
    if kind == "error":
        words = [clean_text(item.get(key, ""), 2_000) for key in ("ename", "evalue")]
        trace = [clean_text(item.get("trace", ""), min(most, 8_000))]
        return new_output("error", ename=words[0], evalue=words[1], traceback=trace)
    if kind == "display":
        data = _clean_bundle(item.get("data"), most)
        return new_output("display_data", data=data) if data else None
    return None


def _clean_bundle(data: Any, most: int) -> dict[str, str]:
    kept: dict[str, str] = {}
    if not isinstance(data, dict):
        return kept
    picture = data.get("image/png")
    if isinstance(picture, str) and _is_png(picture):
        kept["image/png"] = picture
    if isinstance(data.get("text/plain"), str):
        kept["text/plain"] = clean_text(data["text/plain"], most)
    return kept


def _is_png(text: str) -> bool:
    if len(text) > LARGEST_PICTURE_BYTES:
        return False
    try:
        return base64.b64decode(text, validate=False).startswith(_PNG)
    except (binascii.Error, ValueError):
        return False
