"""Making what learners wrote safe to show: visible text, a small Markdown subset, PNG pictures.

Everything a submission holds is text by a stranger. Pages escape it once, in the templates;
this module removes what escaping does not: control characters, overlong text, Markdown that
would become markup, pictures that are not pictures.
"""

import base64
import binascii
import re
import unicodedata
from functools import cache
from typing import Any

LONGEST_TEXT = 6_000  # characters of one output shown
LARGEST_PICTURE_BYTES = 2_000_000
LARGEST_PICTURE_SIDE = 10_000  # pixels
_ANSI = re.compile(r"\x1b(\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(\x07|\x1b\\)?|[@-Z\\-_])")
_PNG_HEAD = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"
_REMOVED = {"Cc", "Cs", "Co"}
_DIRECTION = set("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def visible(text: Any, longest: int = LONGEST_TEXT) -> str:
    """Keep what can be seen of a text: no control or direction-changing characters.

    text [anything; made text]; longest [characters; the middle of a longer text is left out].

    >>> visible("a\\x1b[31mb\\x00\\u202ec")
    'abc'
    """
    words = _ANSI.sub("", str(text)).replace("\r\n", "\n").expandtabs(4)
    kept = words[:20 * longest].translate(_SEEN)
    if len(kept) <= longest:
        return kept
    half = longest // 2
    left_out = len(kept) - 2 * half
    return f"{kept[:half]}\n[… {left_out:,} characters left out …]\n{kept[-half:]}"


def _can_be_seen(ch: str) -> bool:
    return ch == "\n" or (ch not in _DIRECTION and unicodedata.category(ch) not in _REMOVED)


class _Seen(dict[int, str]):
    """What each character becomes, worked out when it first turns up."""

    def __missing__(self, code: int) -> str:
        self[code] = chr(code) if _can_be_seen(chr(code)) else ""
        return self[code]


_SEEN = _Seen()


def one_line(text: Any, longest: int = 400) -> str:
    """Keep what can be seen of a text, on one line.

    >>> one_line("ml-07\\nsecond")
    'ml-07 second'
    """
    return " ".join(visible(text, longest).split())


@cache
def _markdown() -> Any:
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False, "maxNesting": 12}).enable("table")
    return reader.disable(["image", "link", "autolink", "reference", "html_inline", "html_block"])


def safe_markdown(text: Any, longest: int = LONGEST_TEXT) -> str:
    """Turn a learner's Markdown into inert HTML: words, lists, tables, code; no links.

    longest [characters, as for `visible`]. Headings become bold lines, so that they do not
    disturb the page's own outline.

    >>> safe_markdown("**so** <b>hot</b>")
    '<p><strong>so</strong> &lt;b&gt;hot&lt;/b&gt;</p>\\n'
    """
    page = _markdown().render(visible(text, longest))
    page = re.sub(r"<h[1-6]>", '<p class="lead">', re.sub(r"</h[1-6]>", "</p>", page))
    # The writer's own attributes: column alignment and code languages; the page needs neither.
    return re.sub(r"<(td|th|code|ol)( [^>]*)>", r"<\1>", page)


def safe_picture(data: Any) -> str:
    """Give a picture back as clean base64 when it really is a PNG of sensible size, else "".

    data [base64 text]; at most 2 MB and 10,000 pixels a side.

    >>> safe_picture("PHN2Zz4=")
    ''
    """
    text = "".join(data) if isinstance(data, list) else data
    if not isinstance(text, str) or len(text) > LARGEST_PICTURE_BYTES * 4 // 3:
        return ""
    try:
        picture = base64.b64decode("".join(text.split()), validate=True)
    except (binascii.Error, ValueError):
        return ""
    if not picture.startswith(_PNG_HEAD) or len(picture) < 33:
        return ""
    sides = (int.from_bytes(picture[16:20], "big"), int.from_bytes(picture[20:24], "big"))
    if not all(0 < side <= LARGEST_PICTURE_SIDE for side in sides):
        return ""
    return base64.b64encode(picture).decode("ascii")
