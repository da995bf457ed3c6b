"""The control head's display as a drawing: set points, blower, where the air goes, requests."""

from coldbench.panels.bench_view import DisplayView, sentence
from coldbench.panels.svg import tag, text

WIDTH, HEIGHT = 384, 300
_BARS = 10


def backdrop() -> str:
    """The head's case."""
    return (tag("rect", x=6, y=6, width=WIDTH - 12, height=HEIGHT - 12, rx=12, class_="cb-case")
            + text(WIDTH / 2, 30, "control head", "cb-small"))  # fmt: skip


def foreground(view: DisplayView) -> str:
    """What it shows now."""
    if not view.lit:
        return text(WIDTH / 2, HEIGHT / 2, _dark(view), "cb-name")
    return "".join((_set_points(view), _blower(view.blower), _lines(view)))


def _dark(view: DisplayView) -> str:
    return "the display is dark" if view.known else "not in view"


def _set_points(view: DisplayView) -> str:
    many, drawn = len(view.set_points), []
    for k, (zone, words) in enumerate(view.set_points.items()):
        x = WIDTH * (2 * k + 1) / (2 * many)
        drawn += [text(x, 54, f"set, {zone}" if many > 1 else "set", "cb-small"),
                  text(x, 88, words, "cb-bench-big")]  # fmt: skip
    return "".join(drawn)


def _blower(share: float) -> str:
    """Ten bars that grow; those that count are filled."""
    bars = "".join(
        tag("rect", x=150 + 20 * k, y=150 - 4 * k - 7, width=13, height=4 * k + 7,
            class_="cb-dot" if share >= (k + 0.5) / _BARS else "cb-bench-empty")
        for k in range(_BARS))  # fmt: skip
    return text(26, 148, f"blower {100 * share:.0f} %", anchor="start") + bars


def _lines(view: DisplayView) -> str:
    """What is asked for; a full lamp says that the compressor is."""
    lamp = tag("circle", cx=34, cy=187, r=7, class_="cb-dot" if view.compressor else "cb-wd-dot")
    asked = f"compressor {'asked for' if view.compressor else 'not asked for'}"
    rows = (asked, *view.lines)
    return lamp + "".join(text(52 if k == 0 else 26, 192 + 32 * k, words, anchor="start")
                          for k, words in enumerate(rows))  # fmt: skip


def words(view: DisplayView) -> str:
    """The display in sentences."""
    if not view.lit:
        return f"{_dark(view).capitalize()}."
    said = [f"{'set point ' + zone if len(view.set_points) > 1 else 'set point'} {shown}"
            for zone, shown in view.set_points.items()]  # fmt: skip
    said += [f"blower {100 * view.blower:.0f} %",
             f"compressor {'asked for' if view.compressor else 'not asked for'}", *view.lines]  # fmt: skip
    return sentence(said)
