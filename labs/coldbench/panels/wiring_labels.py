"""Places for the words of a wiring diagram, so that none lies on a symbol, a wire or another.

Each word is tried at several places; the first free one is taken, else the least crowded.
Widths are estimated on the wide side, since the reader's font is not known.
"""

from dataclasses import dataclass, field

Box = tuple[float, float, float, float]  # left, top, right, bottom
# Widths of letters as shares of the font size, after a wide screen font.
_NARROW, _WIDE, _OTHER, _CAPITAL = 0.36, 0.95, 0.62, 0.7


def text_width(words: str, size: float) -> float:
    """Estimated width of words in a font of a size [picture units].

    >>> round(text_width("Fan 1", 10))
    29
    """
    return size * sum(map(_letter, words))


def _letter(letter: str) -> float:
    if letter in " ijlI.,:;'|!()/ft·":
        return _NARROW
    if letter in "mMWw@Ω":
        return _WIDE
    return _CAPITAL if letter.isupper() else _OTHER


@dataclass(frozen=True)
class Words:
    """Lines of text at a place: x, y of the first base line, `anchor` as in SVG."""

    lines: tuple[str, ...]
    x: float
    y: float
    anchor: str
    size: float
    box: Box


@dataclass
class Places:
    """What is taken already, and what was put there."""

    boxes: list[Box] = field(default_factory=list)
    lines: list[Box] = field(default_factory=list)

    def keep(self, box: Box) -> None:
        """Keep an area free of words."""
        self.boxes.append(box)

    def keep_line(self, x1: float, y1: float, x2: float, y2: float, pad: float = 2.0) -> None:
        """Keep a straight line free of words."""
        self.lines.append((min(x1, x2) - pad, min(y1, y2) - pad,
                           max(x1, x2) + pad, max(y1, y2) + pad))  # fmt: skip

    def crowding(self, box: Box) -> float:
        """How much of a box is taken; a stretch of a line counts less than words."""
        return sum(_overlap(box, other) for other in self.boxes) + 2 * sum(
            _overlap(box, other) for other in self.lines)  # fmt: skip

    def choose(self, boxes) -> int:
        """Number of the first free box, else of the least crowded one; it is then taken."""
        best, least = 0, float("inf")
        for k, box in enumerate(boxes):
            crowd = self.crowding(box)
            if crowd < least - 1e-9:
                best, least = k, crowd
            if crowd <= 0:
                break
        self.boxes.append(boxes[best])
        return best

    def put(self, lines: tuple[str, ...], size: float, corners) -> Words:
        """Put lines of text at the best of `corners`: (x, y, anchor), y of their middle."""
        width = max(text_width(line, size) for line in lines)
        height = 1.2 * size * len(lines)
        boxes = [_box(x, y, anchor, width, height) for x, y, anchor in corners]
        k = self.choose(boxes)
        x, _, anchor = corners[k]
        return Words(lines, x, boxes[k][1] + 0.92 * size, anchor, size, boxes[k])


def _box(x: float, y: float, anchor: str, width: float, height: float) -> Box:
    left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
    return left, y - height / 2, left + width, y + height / 2


def _overlap(one: Box, other: Box) -> float:
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    return width * height if width > 0 and height > 0 else 0.0
