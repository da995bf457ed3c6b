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


def write_pages(svgs: list[str], file, title: str) -> Path:
    """Write several SVG documents as the pages of one PDF, each as large as A4 lets it be.

    Parameters
    ----------
    svgs : from `svg_document`, one for each page
    file : where to, ending in .pdf
    title : of the document

    Raises
    ------
    InputError : no browser, or a folder that is not there
    """
    path = Path(file)
    try:
        _print(_pages(svgs, title), path, "PDF", [])
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})") from None
    return path


def _pages(svgs: list[str], title: str) -> str:
    """A page of HTML that prints each drawing on a side of its own; wide ones lie across."""
    sides = []
    for svg in svgs:
        width, height = _size(svg)
        across = "across" if width > height else "upright"
        sides.append(f'<section class="{across}">{svg}</section>')
    return ('<!doctype html><html lang="en"><meta charset="utf-8">'
            f"<title>{escape(title)}</title><style>"
            "@page across{size:A4 landscape;margin:10mm}@page upright{size:A4;margin:10mm}"
            "body{margin:0}section{break-after:page;break-inside:avoid}"
            "section:last-child{break-after:auto}"
            ".across{page:across}.upright{page:upright}svg{width:100%;height:auto;display:block}"
            ".across svg{max-height:185mm}.upright svg{max-height:272mm}</style>"
            f"{''.join(sides)}</html>")


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
    orders = [] if kind == "PDF" else _shot(svg)
    _print(_page(svg, title, kind), path, kind, orders)


def _print(html: str, path: Path, kind: str, orders: list[str]) -> None:
    browser = next(filter(None, map(shutil.which, _BROWSERS)), None)
    if browser is None:
        raise InputError(f"a {kind} needs Chromium or Chrome on this machine; write .svg and "
                         "print it from any browser")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        page, out = Path(folder) / "page.html", Path(folder) / f"page.{kind.lower()}"
        page.write_text(html, encoding="utf-8")
        target = (["--no-pdf-header-footer", f"--print-to-pdf={out}"] if kind == "PDF"
                  else [f"--screenshot={out}"])
        done = subprocess.run(
            [browser, "--headless", "--no-sandbox", f"--user-data-dir={folder}/profile",
             *target, *orders, page.as_uri()],
            capture_output=True, timeout=120, check=False)  # fmt: skip
        if done.returncode or not out.is_file():
            raise InputError(f"{Path(browser).name} did not make a {kind}; write .svg instead")
        shutil.copyfile(out, path)


def _shot(svg: str) -> list[str]:
    width, height = _size(svg)
    scale = 2 if 2 * max(width, height) <= _MOST_PIXELS else 1
    return ["--hide-scrollbars", f"--force-device-scale-factor={scale}",
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
