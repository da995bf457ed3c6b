"""A drawing as a file: SVG, or PDF and PNG through a headless browser, ready to print."""

import re
import shutil
import subprocess
import tempfile
from html import escape
from pathlib import Path

from coldbench.errors import InputError
from coldbench.panels.still import style_sheet
from coldbench.panels.svg import tag

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
_MOST_PIXELS = 8000  # along one side of a PNG


def svg_document(title: str, description: str, body: str, width: float, height: float) -> str:
    """A drawing as one SVG document with its words and a style of its own.

    Parameters
    ----------
    title, description : what it is, and all that it shows
    body : SVG elements; the style sheet's classes apply
    width, height : size [picture units]
    """
    return tag("svg", tag("title", escape(title, quote=False)),
               tag("desc", escape(description, quote=False)), f"<style>{_style()}</style>",
               tag("rect", width=width, height=height, fill="#ffffff"),
               tag("g", body, class_="cb-panel"), xmlns="http://www.w3.org/2000/svg",
               viewBox=f"0 0 {width:g} {height:g}", width=width, height=height,
               role="img")  # fmt: skip


def write_drawing(svg: str, file, title: str, what: str = "a drawing",
                  endings: tuple[str, ...] = (".svg", ".pdf")) -> Path:
    """Write an SVG document to a file.

    Parameters
    ----------
    svg : from `svg_document`
    file : where to; its ending says the format
    title : of the printed page
    what : the kind of drawing, in messages
    endings : accepted ones, of .svg, .pdf, .png

    Raises
    ------
    InputError : another kind of file, a folder that is not there, no browser for PDF or PNG
    """
    path = Path(file)
    ending = path.suffix.lower()
    if ending not in endings:
        accepted = ", ".join(endings[:-1]) + " or " + endings[-1]
        raise InputError(f"{path.name}: {what} is written as {accepted}")
    try:
        if ending == ".svg":
            path.write_text(f'<?xml version="1.0" encoding="UTF-8"?>\n{svg}\n', encoding="utf-8")
        else:
            _through_browser(svg, path, title)
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})") from None
    return path


def _style() -> str:
    """The panels' style of drawings, with plain colours: not every program knows variables."""
    sheet = re.sub(r"/\*.*?\*/", "", style_sheet(), flags=re.DOTALL)
    colours = dict(re.findall(r"(--cb-[a-z]+): (#[0-9a-f]{6});", sheet[: sheet.index("}")]))
    rules = re.findall(r"(?<=\n)(\.cb-panel\s+svg[^{}]+)\{([^{}]+)\}", sheet)
    kept = (f"{' '.join(select.split()).replace('.cb-panel svg ', '.cb-panel ')}{{{body}}}"
            for select, body in rules)  # fmt: skip
    plain = re.sub(r"var\((--cb-[a-z]+)\)", lambda found: colours[found[1]], "".join(kept))
    return ".cb-panel{font-family:'DejaVu Sans',Verdana,sans-serif}" + " ".join(plain.split())


def _through_browser(svg: str, path: Path, title: str) -> None:
    kind = path.suffix.lower()[1:].upper()
    browser = next(filter(None, map(shutil.which, _BROWSERS)), None)
    if browser is None:
        raise InputError(f"a {kind} needs Chromium or Chrome on this machine; write .svg and "
                         "print it from any browser")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        page, out = Path(folder) / "page.html", Path(folder) / f"page.{kind.lower()}"
        page.write_text(_page(svg, title, kind), encoding="utf-8")
        done = subprocess.run(
            [browser, "--headless", "--no-sandbox", f"--user-data-dir={folder}/profile",
             *_orders(svg, out, kind), page.as_uri()],
            capture_output=True, timeout=120, check=False)  # fmt: skip
        if done.returncode or not out.is_file():
            raise InputError(f"{Path(browser).name} did not make a {kind}; write .svg instead")
        shutil.copyfile(out, path)


def _orders(svg: str, out: Path, kind: str) -> list[str]:
    if kind == "PDF":
        return ["--no-pdf-header-footer", f"--print-to-pdf={out}"]
    width, height = _size(svg)
    scale = 2 if 2 * max(width, height) <= _MOST_PIXELS else 1
    return [f"--screenshot={out}", "--hide-scrollbars", f"--force-device-scale-factor={scale}",
            f"--window-size={width:.0f},{height:.0f}"]  # fmt: skip


def _size(svg: str) -> tuple[float, float]:
    start = svg.index('viewBox="0 0 ') + 13
    width, height = map(float, svg[start : svg.index('"', start)].split())
    return width, height


def _page(svg: str, title: str, kind: str) -> str:
    """A page with the drawing: for PDF an A4 page, as large as it goes, wide ones lie across."""
    head = ('<!doctype html><html lang="en"><meta charset="utf-8">'
            f"<title>{escape(title)}</title>")  # fmt: skip
    if kind == "PNG":
        return f"{head}<style>body{{margin:0}}svg{{display:block}}</style>{svg}</html>"
    width, height = _size(svg)
    across = "landscape" if width > height else "portrait"
    return (f"{head}<style>@page{{size:A4 {across};margin:10mm}}body{{margin:0}}"
            f"svg{{width:100%;height:auto;max-height:{185 if across == 'landscape' else 272}mm}}"
            f"</style>{svg}</html>")  # fmt: skip
