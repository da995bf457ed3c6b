"""Places for the words of a wiring diagram, so that none lies on a symbol, a wire or another.

Each word is tried at several places; the first free one is taken, else the least crowded.
Widths are estimated on the wide side, since the reader's font is not known.
"""

from dataclasses import dataclass

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
class _Put:
    """Words with all the places they may take; `taken` is the number of theirs among boxes."""

    lines: list[tuple[str, ...]]  # at each of the places
    size: float
    corners: list[tuple[float, float, str]]
    boxes: list[Box]
    chosen: int
    taken: int


class Places:
    """What is taken already, and what was put there.

    >>> places = Places()
    >>> places.keep((0, 0, 50, 20))
    >>> places.words(places.put(("W1",), 10, [(10, 10, "start"), (60, 10, "start")])).x
    60
    """

    def __init__(self):
        self.boxes: list[Box] = []
        self._lines: list[Box] = []
        self._put: list[_Put] = []

    def keep(self, box: Box) -> None:
        """Keep an area free of words."""
        self.boxes.append(box)

    def keep_line(self, x1: float, y1: float, x2: float, y2: float, pad: float = 2.0) -> None:
        """Keep a straight line free of words."""
        self._lines.append((min(x1, x2) - pad, min(y1, y2) - pad,
                            max(x1, x2) + pad, max(y1, y2) + pad))  # fmt: skip

    def crowding(self, box: Box, but: int = -1) -> float:
        """How much of a box is taken, box number `but` left out; lines count twice."""
        left, top, right, bottom = box  # most lie far away: compared here, not in a function
        words = sum(_overlap(box, other) for k, other in enumerate(self.boxes)
                    if other[0] < right and other[2] > left and other[1] < bottom
                    and other[3] > top and k != but)
        return words + 2 * sum(_overlap(box, other) for other in self._lines
                               if other[0] < right and other[2] > left and other[1] < bottom
                               and other[3] > top)

    def choose(self, boxes: list[Box], but: int = -1) -> int:
        """Number of the first free box, else of the least crowded one."""
        best, least = 0, float("inf")
        for k, box in enumerate(boxes):
            crowd = self.crowding(box, but)
            if crowd < least - 1e-9:
                best, least = k, crowd
            if crowd <= 0:
                break
        return best

    def put(self, lines: tuple[str, ...], size: float, corners,
            narrower: tuple[str, ...] = ()) -> int:
        """Put lines of text at the best of `corners`: (x, y, anchor), y of their middle.

        narrower : the same words in shorter lines, for where the others find no free place. The
        number returned gives their place, once all is put: `words`.
        """
        ways = [(way, corner) for way in (lines, narrower) if way for corner in corners]
        boxes = [_box(*corner, max(text_width(line, size) for line in way), 1.2 * size * len(way))
                 for way, corner in ways]
        chosen = self.choose(boxes)
        self._put.append(_Put([way for way, _ in ways], size, [corner for _, corner in ways], boxes,
                              chosen, len(self.boxes)))
        self.boxes.append(boxes[chosen])
        return len(self._put) - 1

    def settle(self, rounds: int = 4) -> None:
        """Let words that lie on something look again, now that all is known."""
        for _ in range(rounds):
            crowded = [put for put in self._put
                       if self.crowding(self.boxes[put.taken], put.taken) > 0]  # fmt: skip
            for put in crowded:
                put.chosen = self.choose(put.boxes, put.taken)
                self.boxes[put.taken] = put.boxes[put.chosen]

    def words(self, number: int) -> Words:
        """Where words number `number` stand."""
        put = self._put[number]
        x, _, anchor = put.corners[put.chosen]
        box = put.boxes[put.chosen]
        return Words(put.lines[put.chosen], x, box[1] + 0.92 * put.size, anchor, put.size, box)


def _box(x: float, y: float, anchor: str, width: float, height: float) -> Box:
    left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
    return left, y - height / 2, left + width, y + height / 2


def _overlap(one: Box, other: Box) -> float:
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    return width * height if width > 0 and height > 0 else 0.0
