"""Static matplotlib figures with a text alternative, as HTML with inline SVG.

A text alternative put into an output's metadata is lost when the notebook becomes a page, so
it goes into the picture itself: `role="img"`, a `<title>`, and a caption if wanted.
"""

import io
import itertools
import re
from html import escape

from coldbench.errors import InputError

_numbers = itertools.count(1)


def figure_html(figure, alt: str, caption: str = "", crop: bool = True) -> str:
    """A matplotlib figure as HTML with its text alternative.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    alt : what the figure shows, in a sentence or two
    caption : words printed under it, optional
    crop : cut the empty margin away, which draws the figure twice

    Returns
    -------
    str
        a `<figure>` element with inline SVG

    Raises
    ------
    InputError : no text alternative

    >>> from matplotlib.figure import Figure
    >>> html = figure_html(Figure(), alt="An empty figure.")
    >>> '<title>An empty figure.</title>' in html
    True
    """
    if not isinstance(alt, str) or not alt.strip():
        raise InputError("the figure has no text alternative: say in alt=… what it shows")
    words = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    svg = _with_title(_own_ids(_svg_of(figure, crop)), alt.strip())
    return f'<figure class="cb-figure" style="margin:0.5em 0">{svg}{words}</figure>'


def show(figure, alt: str, caption: str = "") -> None:
    """Show a matplotlib figure in the notebook with its text alternative, then close it."""
    from IPython.display import HTML, display
    from matplotlib import pyplot

    display(HTML(figure_html(figure, alt, caption)))
    pyplot.close(figure)  # or the notebook would draw it a second time, without the words


def _svg_of(figure, crop: bool) -> str:
    """The figure as an `<svg>` element; letters as shapes, so that every page shows the same."""
    from matplotlib import rc_context

    stream = io.StringIO()
    with rc_context({"svg.hashsalt": "coldbench", "svg.fonttype": "path"}):
        figure.savefig(stream, format="svg", bbox_inches="tight" if crop else None,
                       metadata={"Date": None})
    text = re.sub(r"<metadata>.*?</metadata>", "", stream.getvalue(), flags=re.DOTALL)
    return text[text.index("<svg"):].strip()  # fmt: skip


def _own_ids(svg: str) -> str:
    """Give every id of the drawing a prefix of its own: a page may hold many drawings."""
    prefix = f"cb{next(_numbers)}-"
    svg = re.sub(r'\bid="', f'id="{prefix}', svg)
    return re.sub(r'(url\(#|href="#)', rf"\1{prefix}", svg)


def _with_title(svg: str, alt: str) -> str:
    """Name the drawing and let it shrink with the page."""
    end = svg.index(">")
    head = re.sub(r' height="[^"]*"', "", svg[:end], count=1)
    style = ' style="max-width:100%;height:auto;background:#fff"'
    return f'{head} role="img"{style}><title>{escape(alt)}</title>{svg[end + 1:]}'
