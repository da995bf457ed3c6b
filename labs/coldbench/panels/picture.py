"""One drawing of a panel: a background that rarely changes and a foreground that moves.

The page redraws only the foreground while a control moves; that keeps it quick.
"""

from dataclasses import dataclass

from coldbench.panels.svg import tag


@dataclass(frozen=True)
class Picture:
    """A drawing with its text alternative.

    Parameters
    ----------
    name : short name, unique in its panel
    width, height : size of the drawing [picture units, about one pixel]
    title : what it is, in a few words
    description : what it shows now, in a sentence
    background, foreground : SVG elements as text

    >>> Picture("dot", 10, 10, "A dot", "The dot is in the middle.", "", "").svg()[:36]
    '<svg viewBox="0 0 10 10" width="10" '
    """

    name: str
    width: int
    height: int
    title: str
    description: str
    background: str
    foreground: str

    def svg(self) -> str:
        """The whole drawing as one inline SVG element."""
        return self._frame(self.description, self.foreground)

    def stage(self) -> str:
        """The drawing without what moves; the page fills the foreground and the description."""
        return self._frame("…", "")

    def _frame(self, description: str, foreground: str) -> str:
        return tag(
            "svg",
            tag("title", _plain(self.title)),
            tag("desc", _plain(description)),
            f'<g class="cb-back">{self.background}</g>',
            f'<g class="cb-front">{foreground}</g>',
            viewBox=f"0 0 {self.width} {self.height}",
            width=self.width,
            style=f"flex:{self.width} 1 {0.78 * self.width:.0f}px;max-width:{self.width}px",
            role="img",
            xmlns="http://www.w3.org/2000/svg",
        )


def _plain(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;")
