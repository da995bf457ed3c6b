"""The board of test points: the meter, and numbered sockets, a row for each part of the wiring.

The red lead has a round mark and the letter R, the black one a square mark and the letter B.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coldbench.panels.svg import tag, text

WIDTH = 940
_LEFT, _PITCH, _ROW, _TOP, _R = 140, 36, 38, 74, 14
_IN_ROW = 22


@dataclass(frozen=True)
class Board:
    """Where each test point stands; rows: (words, y)."""

    points: Mapping[int, tuple[float, float]]
    rows: tuple[tuple[str, float], ...]
    height: int


def board(points: Iterable[int], titles: Mapping[int, str]) -> Board:
    """Places of the test points, by hundreds [titles: hundred → words of that part].

    >>> board([3, 201], {2: "clutch"}).rows
    (('1 to 99', 74), ('clutch', 112))
    """
    places, rows, y = {}, [], _TOP
    points = sorted(points)
    hundreds = sorted({number // 100 for number in points})
    titles = titles if len(hundreds) > 1 else dict.fromkeys(hundreds, "test points")
    for hundred in hundreds:
        span = f"{max(100 * hundred, 1)} to {100 * hundred + 99}"
        rows.append((titles.get(hundred, span), y))
        numbers = [number for number in points if number // 100 == hundred]
        for k, number in enumerate(numbers):
            places[number] = _LEFT + _PITCH * (k % _IN_ROW), y + _ROW * (k // _IN_ROW)
        y += _ROW * (1 + (len(numbers) - 1) // _IN_ROW)
    return Board(places, tuple(rows), y - _ROW + _R + 8)


def backdrop(drawn: Board) -> str:
    """The meter's case, and the sockets with their numbers."""
    meter = tag("rect", x=4, y=6, width=WIDTH - 8, height=38, rx=6, class_="cb-case")
    rows = "".join(text(12, y + 5, words, "cb-bench-part", "start") for words, y in drawn.rows)
    sockets = "".join(
        tag("circle", cx=x, cy=y, r=_R, class_="cb-wd-point")
        + text(x, y + 4, str(number), "cb-bench-socket")
        for number, (x, y) in drawn.points.items())  # fmt: skip
    return meter + rows + sockets


def foreground(drawn: Board, red: int | None, black: int | None, shown: str, where: str) -> str:
    """The leads on their sockets; the meter with its reading, and where the leads are."""
    pieces = [text(18, 32, shown or "– – –", "cb-value", "start"),
              text(WIDTH - 18, 31, where, "cb-bench-part", "end")]  # fmt: skip
    if red in drawn.points:
        x, y = drawn.points[red]
        pieces += [tag("circle", cx=x, cy=y, r=_R + 3, class_="cb-wd-red"),
                   _flag(x - _R, y - _R, "R", "cb-wd-red-flag")]  # fmt: skip
    if black in drawn.points:
        x, y = drawn.points[black]
        pieces += [tag("rect", x=x - _R - 3, y=y - _R - 3, width=2 * _R + 6, height=2 * _R + 6,
                       class_="cb-wd-black"),
                   _flag(x + _R, y - _R, "B", "cb-wd-black-flag")]  # fmt: skip
    return "".join(pieces)


def _flag(x: float, y: float, letter: str, look: str) -> str:
    return tag("circle", cx=x, cy=y, r=7, class_=look) + text(x, y + 4, letter, "cb-wd-letter")
