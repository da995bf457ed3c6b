"""A whole bench on paper: its refrigerant side, its wiring, and what ties the two together.

One SVG with everything, or a PDF of A4 pages: the refrigerant side, the wiring as a whole, then
the wiring in parts large enough to read at the bench.
"""

from dataclasses import dataclass
from math import ceil
from pathlib import Path

from coldbench.panels.loop_picture import HEIGHT as LOOP_HEIGHT
from coldbench.panels.loop_picture import WIDTH as LOOP_WIDTH
from coldbench.panels.loop_picture import LoopView, foreground
from coldbench.panels.loop_picture import backdrop as loop_backdrop
from coldbench.panels.svg import tag, text
from coldbench.panels.svg_file import svg_document, write_drawing, write_pages
from coldbench.panels.wiring_diagram import diagram
from coldbench.panels.wiring_file import LEGEND
from coldbench.panels.wiring_live import REST, moving
from coldbench.panels.wiring_words import describe

TILE = (1400, 930)  # as large as A4 shows it at a size to read
_LAP = 100
_MARGIN, _HEAD, _LINE = 16, 66, 19


@dataclass(frozen=True)
class Sheet:
    """One page: SVG elements, their size and their words."""

    title: str
    words: str
    body: str
    width: float
    height: float

    def document(self) -> str:
        """The page as an SVG document of its own."""
        return svg_document(self.title, self.words, self.body, self.width, self.height)


def bench_lines(bench) -> tuple[str, ...]:
    """What belongs to the refrigerant side and the head, in lines of words.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> bench_lines(load_bench("quay"))[1]
    'condenser fan M1: all of the airflow at 2,240 rpm'
    """
    fans = [f"condenser fan {fan.motor}: {_share(fan.share)} of the airflow at "
            f"{fan.full_rpm:,.0f} rpm" for fan in bench.fans]  # fmt: skip
    switch = bench.pressure_switch
    wired = {one: name for one, name in bench.head.signals.items() if name != "bus"}
    by_bus = [one for one, name in bench.head.signals.items() if name == "bus"]
    lines = [f"refrigerant: {bench.loop.fluid}, right charge "
             f"{1000 * bench.parts.right_charge_kg(bench.loop.fluid):.0f} g", *fans,
             f"cabin blower {bench.blower.motor}; compressor clutch {bench.clutch.coil}, engages "
             f"from {bench.clutch.engage_A:g} A"]  # fmt: skip
    if switch:
        lines.append(f"high-pressure switch: opens at {switch.open_Pa / 1e3:,.0f} kPa, closes "
                     f"again below {switch.close_Pa / 1e3:,.0f} kPa (gauge)")  # fmt: skip
    lines.append("zones: " + ", ".join(bench.calibration.zone_names)
                 + "; doors: " + ", ".join(bench.calibration.door_names))  # fmt: skip
    lines += ["sensors on the head's pins: " + "; ".join(
        f"{signal} ({bench.inputs.input(name).part}, pin {bench.inputs.input(name).signal})"
        for signal, name in wired.items())]  # fmt: skip
    if by_bus:
        lines.append("by data bus: " + ", ".join(by_bus))
    return (*lines, "operating states: " + ", ".join(bench.states))


def _share(share: float) -> str:
    return "all" if share > 0.999 else f"{100 * share:.0f} %"


def loop_sheet(bench) -> Sheet:
    """The refrigerant side with the lines of words below it."""
    rows = [row for line in bench_lines(bench) for row in _folded(line, 108)]
    width = LOOP_WIDTH + 180
    height = _HEAD + LOOP_HEIGHT + 20 + _LINE * len(rows) + _MARGIN
    glass = bench.instruments.sight_glass
    drawing = loop_backdrop(bench.loop.fluid, glass) + foreground(_view(bench))
    body = _heading(bench, "refrigerant side") + tag(
        "g", drawing, transform=f"translate({(width - LOOP_WIDTH) / 2:g} {_HEAD})")
    body += "".join(text(_MARGIN, _HEAD + LOOP_HEIGHT + 24 + _LINE * k, row, "cb-small", "start")
                    for k, row in enumerate(rows))  # fmt: skip
    words = (f"{bench.title}. {bench.about} In the direction of flow: compressor, condenser, "
             f"receiver-drier, liquid line with hand valve{' and sight glass' * glass}, "
             "expansion valve, evaporator, suction line. " + ". ".join(bench_lines(bench)) + ".")  # fmt: skip
    return Sheet(f"{bench.title}: refrigerant side", words, body, width, height)


def _view(bench) -> LoopView:
    """The drawing without readings: what drives the air and the compressor instead."""
    fans = " and ".join(fan.motor for fan in bench.fans)
    return LoopView(
        *[""] * 5, "to the vents, past the blend doors", f"air by {fans}",
        f"air by blower {bench.blower.motor}", f"clutch {bench.clutch.coil}", 0.0, None, 0.0,
        iced=False, running=True,
        sight_glass=bench.instruments.sight_glass)  # fmt: skip


def _folded(line: str, most: int) -> list[str]:
    rows = [""]
    for word in line.split(" "):
        if rows[-1] and len(rows[-1]) + 1 + len(word) > most:
            rows.append("    " + word)
        else:
            rows[-1] = f"{rows[-1]} {word}".lstrip() if len(rows) == 1 else f"{rows[-1]} {word}"
    return rows


def _heading(bench, what: str) -> str:
    return (text(_MARGIN, 30, f"{bench.title}: {what}", "cb-name", "start")
            + text(_MARGIN, 50, bench.about, "cb-small", "start"))  # fmt: skip


def wiring_sheet(bench) -> Sheet:
    """The whole wiring on one page."""
    drawn = diagram(bench.circuit)
    width, height = max(drawn.width, 640), drawn.height + _HEAD + 34
    body = (_heading(bench, "wiring") + _wiring(drawn, 0, _HEAD)
            + text(_MARGIN, height - 12, LEGEND, "cb-wd-small", "start"))  # fmt: skip
    return Sheet(f"{bench.title}: wiring", describe(bench.circuit), body, width, height)


def _wiring(drawn, x: float, y: float) -> str:
    return tag("g", drawn.still, moving(drawn, REST), transform=f"translate({x:g} {y:g})")


def wiring_tiles(bench) -> tuple[Sheet, ...]:
    """The wiring in parts that lap over, row by row; none where it fits one page as it is."""
    drawn = diagram(bench.circuit)
    wide, tall = TILE
    columns, rows = _count(drawn.width, wide), _count(drawn.height, tall)
    if columns * rows == 1:
        return ()
    return tuple(_tile(bench, drawn, column, row, (columns, rows))
                 for row in range(rows) for column in range(columns))


def _count(length: float, tile: float) -> int:
    return max(1, ceil((length - _LAP) / (tile - _LAP)))


def _tile(bench, drawn, column: int, row: int, many: tuple[int, int]) -> Sheet:
    wide, tall = TILE
    x, y = column * (wide - _LAP), row * (tall - _LAP)
    name = f"{chr(ord('A') + row)}{column + 1}"
    last = f"{chr(ord('A') + many[1] - 1)}{many[0]}"
    title = f"{bench.title}: wiring, part {name} of A1 to {last}"
    clip = tag("clipPath", tag("rect", x=x, y=y, width=wide, height=tall), id=f"cb-part-{name}")
    inner = tag("g", tag("g", drawn.still, moving(drawn, REST), clip_path=f"url(#cb-part-{name})"),
                transform=f"translate({-x:g} {34 - y:g})")
    body = clip + inner + text(_MARGIN, 24, title, "cb-name", "start")
    inside = [f"{part.id} {part.label}".strip() for part in bench.circuit.parts.values()
              if x <= drawn.parts[part.id][0] <= x + wide
              and y <= drawn.parts[part.id][1] <= y + tall]
    return Sheet(title, "Parts in view: " + "; ".join(inside) + ".", body, wide, tall + 34)


def bench_svg(bench) -> str:
    """The bench as one SVG document: refrigerant side above, wiring below."""
    loop, wiring = loop_sheet(bench), wiring_sheet(bench)
    width = max(loop.width, wiring.width)
    body = (tag("g", loop.body)
            + tag("g", wiring.body, transform=f"translate(0 {loop.height:g})"))
    return svg_document(bench.title, f"{loop.words} {wiring.words}", body, width,
                        loop.height + wiring.height)  # fmt: skip


def write_bench(bench, file) -> Path:
    """Write the drawing of a bench to a file [.svg or .pdf].

    Parameters
    ----------
    bench : `coldbench.bench.Bench`
    file : where to

    Raises
    ------
    InputError : another kind of file, a folder that is not there, no browser for a PDF
    """
    if Path(file).suffix.lower() != ".pdf":
        return write_drawing(bench_svg(bench), file, bench.title, "a bench")
    pages = (loop_sheet(bench), wiring_sheet(bench), *wiring_tiles(bench))
    return write_pages([page.document() for page in pages], file, bench.title)
