"""Draws a pocket chart: one A6 page (105 mm × 148 mm), readable in grey, without colour.

Printed at full size it fits a shirt pocket; four fit on a sheet of A4. PDF and PNG carry
title and description in their metadata, SVG in <title> and <desc>; text stays text.
"""

import io
import math
from pathlib import Path
from xml.sax.saxutils import escape

from coldbench.cli.pocket_table import ChartTable, Row
from coldbench.errors import InputError

WIDTH_MM, HEIGHT_MM = 105.0, 148.0
_MM_PER_INCH = 25.4
_LEFT_MM, _RIGHT_MM, _GAP_MM = 6.0, 99.0, 5.0
_TABLE_TOP_MM, _TABLE_BOTTOM_MM = 117.5, 23.5
_STYLE = {"pdf.fonttype": 42, "svg.fonttype": "none", "svg.hashsalt": "coldbench",
          "font.family": "DejaVu Sans"}


def write_chart(table: ChartTable, path: Path) -> None:
    """Draw a chart and write it to a file.

    Parameters
    ----------
    table : ChartTable
        What the chart shows.
    path : Path
        Ends in .pdf, .svg or .png.

    Raises
    ------
    InputError
        If the ending is another one, or the file cannot be written.

    Examples
    --------
    >>> write_chart(None, Path("chart.doc"))
    Traceback (most recent call last):
    coldbench.errors.InputError: --chart chart.doc: the name must end in .pdf, .svg or .png
    """
    form = path.suffix.lower().lstrip(".")
    if form not in ("pdf", "svg", "png"):
        raise InputError(f"--chart {path}: the name must end in .pdf, .svg or .png")
    content = chart_bytes(table, form)
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(f"--chart {path}: cannot be written ({error.strerror})") from None


def chart_title(table: ChartTable) -> str:
    """Return the title of a chart.

    Parameters
    ----------
    table : ChartTable
        What the chart shows.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.cli.pocket_table import chart_table
    >>> from coldbench.refrigerant import fluid
    >>> chart_title(chart_table(fluid("R134a"), "bar", "degC", 101325.0, 0.0))
    'R-134a pressure and temperature, pocket chart'
    """
    return f"{table.designation} pressure and temperature, pocket chart"


def chart_description(table: ChartTable) -> str:
    """Return the text alternative of a chart: what it shows, and every row.

    Parameters
    ----------
    table : ChartTable
        What the chart shows.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.cli.pocket_table import chart_table
    >>> from coldbench.refrigerant import fluid
    >>> text = chart_description(chart_table(fluid("R134a"), "bar", "degC", 101325.0, 0.0))
    >>> "−40 °C −0.50 vacuum; " in text, "0 °C 1.91; " in text
    (True, True)
    """
    rows = "; ".join(_row_words(row, table) for row in table.rows)
    return (f"{table.place}, in {table.pressure_unit}; saturation, {' and '.join(table.columns)}. "
            f"{table.safety}. {rows}. {' '.join(table.cautions)}")


def _row_words(row: Row, table: ChartTable) -> str:
    marks = (f"{p} vacuum" if v else p for p, v in zip(row.pressures, row.vacuum))
    return f"{_signed(row.temperature)} {table.temperature_symbol} {' / '.join(marks)}"


def chart_bytes(table: ChartTable, form: str) -> bytes:
    """Return a drawn chart as the content of a file.

    Parameters
    ----------
    table : ChartTable
        What the chart shows.
    form : str
        "pdf", "svg" or "png".

    Returns
    -------
    bytes
        The same for the same table.

    Examples
    --------
    >>> from coldbench.cli.pocket_table import chart_table
    >>> from coldbench.refrigerant import fluid
    >>> chart_bytes(chart_table(fluid("R134a"), "bar", "degC", 101325.0, 0.0), "pdf")[:5]
    b'%PDF-'
    """
    import matplotlib

    with matplotlib.rc_context(_STYLE):
        buffer = io.BytesIO()
        _draw(table).savefig(buffer, format=form, dpi=300, metadata=_metadata(table, form))
    if form != "svg":
        return buffer.getvalue()
    return _with_title(buffer.getvalue().decode(), table).encode()


def _metadata(table: ChartTable, form: str) -> dict:
    title, description = chart_title(table), chart_description(table)
    if form == "pdf":
        return {"Title": title, "Subject": description, "Creator": "coldbench",
                "CreationDate": None}
    if form == "svg":
        return {"Title": title, "Date": None, "Creator": "coldbench"}
    return {"Title": title, "Description": description, "Software": "coldbench"}


def _with_title(svg: str, table: ChartTable) -> str:
    """Put title and description first inside <svg>, where screen readers look."""
    start = svg.index("<svg ")
    end = svg.index(">", start)
    head = (' role="img" aria-labelledby="chart-title chart-desc">\n'
            f' <title id="chart-title">{escape(chart_title(table))}</title>\n'
            f' <desc id="chart-desc">{escape(chart_description(table))}</desc>')
    return svg[:end] + head + svg[end + 1:]


def _draw(table: ChartTable):
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_MM / _MM_PER_INCH, HEIGHT_MM / _MM_PER_INCH))
    page = figure.add_axes((0, 0, 1, 1), xlim=(0, WIDTH_MM), ylim=(0, HEIGHT_MM))
    page.set_axis_off()
    _draw_head(page, table)
    half = math.ceil(len(table.rows) / 2)
    width = (_RIGHT_MM - _LEFT_MM - _GAP_MM) / 2
    pitch = min((_TABLE_TOP_MM - _TABLE_BOTTOM_MM) / half, 4.2)
    for block, rows in enumerate((table.rows[:half], table.rows[half:])):
        _draw_block(page, table, rows, _LEFT_MM + block * (width + _GAP_MM), width, pitch)
    _draw_foot(page, table)
    return figure


def _draw_head(page, table: ChartTable) -> None:
    page.text(_LEFT_MM, 141.5, table.designation, size=17, weight="bold", va="center")
    page.text(_RIGHT_MM, 141.5, table.chemical, size=6.5, ha="right", va="center")
    page.text(_LEFT_MM, 134.8, table.place, size=7.5, weight="bold", va="center")
    page.text(_LEFT_MM, 131.1, table.safety, size=6.5, va="center")
    advice = "True where liquid and vapour are together and no air is mixed in."
    if len(table.columns) == 2:
        advice = "Dew: take it for superheat. Bubble: take it for subcooling."
    page.text(_LEFT_MM, 127.9, advice, size=6.5, va="center")


def _columns_mm(table: ChartTable, left: float, width: float) -> list[float]:
    """Right edges of the columns: temperature, then one or two pressures [mm]."""
    if len(table.columns) == 1:
        return [left + 14.0, left + width - 4.0]
    return [left + 12.0, left + width - 16.5, left + width - 1.5]


def _draw_block(page, table: ChartTable, rows: tuple[Row, ...], left: float, width: float,
                pitch: float) -> None:
    edges = _columns_mm(table, left, width)
    heads = (table.temperature_symbol, *table.columns)
    for edge, head in zip(edges, heads):
        page.text(edge, _TABLE_TOP_MM + 5.2, head, size=7, weight="bold", ha="right", va="center")
    page.text(edges[-1], _TABLE_TOP_MM + 1.9, f"{table.pressure_unit}", size=6.5, ha="right",
              va="center")
    page.plot([left, left + width], [_TABLE_TOP_MM] * 2, color="black", linewidth=0.9)
    for i, row in enumerate(rows):
        _draw_row(page, row, edges, (left, width), _TABLE_TOP_MM - (i + 0.5) * pitch, pitch)
    _draw_vacuum_bar(page, sum(any(row.vacuum) for row in rows), left, pitch)
    bottom = _TABLE_TOP_MM - len(rows) * pitch
    page.plot([left, left + width], [bottom] * 2, color="black", linewidth=0.5)


def _draw_row(page, row: Row, edges: list[float], span: tuple[float, float], y: float,
              pitch: float) -> None:
    ten = row.temperature % 10 == 0
    left, width = span
    if ten:
        page.axhspan(y - pitch / 2, y + pitch / 2, left / WIDTH_MM, (left + width) / WIDTH_MM,
                     color="0.88", linewidth=0, zorder=0)
    weight = "bold" if ten else "normal"
    marked = [f"({p}" if v else p for p, v in zip(row.pressures, row.vacuum)]
    for edge, text in zip(edges, (_signed(row.temperature), *marked)):
        page.text(edge, y, text, size=7, weight=weight, ha="right", va="center_baseline")
        if text.startswith("("):  # closed apart, so that the digits stay in line
            page.text(edge, y, ")", size=7, weight=weight, va="center_baseline")


def _draw_vacuum_bar(page, count: int, left: float, pitch: float) -> None:
    """A hatched bar beside the rows in vacuum, with the word."""
    if not count:
        return
    from matplotlib.patches import Rectangle

    height = count * pitch
    page.add_patch(Rectangle((left, _TABLE_TOP_MM - height), 2.6, height, facecolor="white",
                             edgecolor="black", linewidth=0.6, hatch="//////"))
    if height > 12.0:
        page.text(left + 1.3, _TABLE_TOP_MM - height / 2, "VACUUM", size=5.5, rotation=90,
                  ha="center", va="center", weight="bold",
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6})


def _draw_foot(page, table: ChartTable) -> None:
    lines = [table.vacuum_note] if table.vacuum_note else []
    lines += [*table.cautions, table.source]
    for i, line in enumerate(lines):
        weight = "bold" if line in table.cautions else "normal"
        page.text(_LEFT_MM, 20.0 - 3.2 * i, line, size=5.6, weight=weight, va="center")


def _signed(temperature: int) -> str:
    return str(temperature).replace("-", "\u2212")
