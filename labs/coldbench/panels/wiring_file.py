"""A wiring diagram as a file: SVG, or PDF through a headless browser, ready to print.

In a program:

    write_diagram(load_circuit("clutch"), "clutch.svg")
"""

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from coldbench.errors import InputError
from coldbench.panels.picture import Picture
from coldbench.panels.still import style_sheet
from coldbench.panels.svg import tag, text
from coldbench.panels.wiring_diagram import diagram
from coldbench.panels.wiring_live import REST, Live, moving
from coldbench.panels.wiring_words import describe

LEGEND = ("Beside each wire: circuit number / size in mm². A number in a circle: test point. "
          "A heavy line: splice or post.")  # fmt: skip
_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")


def wiring_picture(circuit, live: Live = REST, said: str = "") -> Picture:
    """The diagram of a circuit as a picture with its text alternative.

    Parameters
    ----------
    circuit : `coldbench.electrical.Circuit`
    live : contacts and values to show
    said : words about the state, put before the description
    """
    drawn = diagram(circuit)
    words = f"{said} {describe(circuit)}".strip()
    return Picture("wiring", drawn.width, drawn.height, f"Wiring diagram: {circuit.title}", words,
                   drawn.still, moving(drawn, live))  # fmt: skip


def diagram_svg(circuit, live: Live = REST, said: str = "") -> str:
    """The diagram as one SVG document with title, legend and style of its own."""
    picture = wiring_picture(circuit, live, said)
    width, height = max(picture.width, 640), picture.height + 84
    head = text(16, 30, circuit.title, "cb-name", "start")
    head += text(16, 50, said or f"{circuit.name}, drawn at rest", "cb-small", "start")
    foot = text(16, height - 10, LEGEND, "cb-wd-small", "start")
    inner = tag("g", picture.background, picture.foreground, transform="translate(0 56)")
    return tag("svg", tag("title", _plain(picture.title)), tag("desc", _plain(picture.description)),
               f"<style>{_style()}</style>",
               tag("rect", width=width, height=height, fill="#ffffff"),
               tag("g", head, inner, foot, class_="cb-panel"),
               xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width} {height}",
               width=width, height=height, role="img")  # fmt: skip


def write_diagram(circuit, file, live: Live = REST, said: str = "") -> Path:
    """Write the diagram of a circuit to a file [.svg or .pdf].

    Raises
    ------
    InputError : another kind of file, a folder that is not there, no browser for a PDF
    """
    path = Path(file)
    if path.suffix.lower() not in (".svg", ".pdf"):
        raise InputError(f"{path.name}: a diagram is written as .svg or .pdf")
    svg = diagram_svg(circuit, live, said)
    try:
        if path.suffix.lower() == ".pdf":
            _print(svg, path)
        else:
            path.write_text(f'<?xml version="1.0" encoding="UTF-8"?>\n{svg}\n', encoding="utf-8")
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


def _print(svg: str, path: Path) -> None:
    browser = next(filter(None, map(shutil.which, _BROWSERS)), None)
    if browser is None:
        raise InputError("a PDF needs Chromium or Chrome on this machine; write .svg and print it "
                         "from any browser")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        page, out = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(_page(svg), encoding="utf-8")
        done = subprocess.run(
            [browser, "--headless", "--no-sandbox", f"--user-data-dir={folder}/profile",
             "--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri()],
            capture_output=True, timeout=120, check=False)  # fmt: skip
        if done.returncode or not out.is_file():
            raise InputError(f"{Path(browser).name} did not make a PDF; write .svg instead")
        shutil.copyfile(out, path)


def _page(svg: str) -> str:
    """An A4 page with the drawing as large as it goes; wide ones lie across."""
    start = svg.index('viewBox="0 0 ') + 13
    width, height = map(float, svg[start : svg.index('"', start)].split())
    across = "landscape" if width > height else "portrait"
    return (f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Wiring diagram</title>'
            f"<style>@page{{size:A4 {across};margin:10mm}}body{{margin:0}}"
            f"svg{{width:100%;height:auto;max-height:{185 if across == 'landscape' else 272}mm}}"
            f"</style>{svg}</html>")  # fmt: skip


def _plain(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;")
