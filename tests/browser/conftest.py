"""A course with one panel, JupyterLab on it as `coldbench lab` starts it, and a browser."""

import os
import queue
import re
import shutil
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import nbformat
import pytest

PROJECT = Path(__file__).resolve().parents[2]
RUN = "from coldbench.cli import main; main()"
LAB = "pressure-temperature"
NOTEBOOK = f"release/{LAB}/{LAB}.ipynb"
LAB_TOML = 'title = "From pressure to temperature"\norder = 1\nhours = 2\n'
CELLS = (
    ("markdown", "# From pressure to temperature\n\nMove the gauges."),
    ("code", 'from coldbench.panels import GaugePanel\npanel = GaugePanel("R134a")\npanel'),
    ("markdown", "Write down what you saw."),
)


def notebook(cells=CELLS) -> nbformat.NotebookNode:
    """A lab's notebook with one panel, not yet run."""
    make = {"markdown": nbformat.v4.new_markdown_cell, "code": nbformat.v4.new_code_cell}
    cells = [make[kind](text, id=f"cell-{k}") for k, (kind, text) in enumerate(cells)]
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    return nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": kernel})


def make_course(root: Path) -> Path:
    """A course folder with the project's own settings and a lab of one panel."""
    (root / "autograde").mkdir(parents=True)
    for name in ("course.toml", "nbgrader_config.py"):
        shutil.copy(PROJECT / "autograde" / name, root / "autograde" / name)
    (root / "source" / LAB).mkdir(parents=True)
    (root / "source" / LAB / "lab.toml").write_text(LAB_TOML)
    nbformat.write(notebook(), root / "source" / LAB / f"{LAB}.ipynb")
    lab = root / "release" / LAB
    lab.mkdir(parents=True)
    (lab / "lab.toml").write_text(LAB_TOML)
    nbformat.write(notebook(), lab / f"{LAB}.ipynb")
    return root


def start_lab(folder: Path) -> tuple[subprocess.Popen, str]:
    """Start `coldbench lab` without a browser; returns the process and the printed address."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, "lab", str(folder), "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=folder,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    lines: queue.Queue = queue.Queue()
    threading.Thread(target=_drain, args=(process.stdout, lines), daemon=True).start()
    said = []
    while True:
        try:
            said.append(lines.get(timeout=60))
        except queue.Empty:
            said.append("")
        if not said[-1]:
            process.kill()
            pytest.fail("it gave no address; it said:\n" + "".join(said))
        if found := re.match(r"Open (http://\S+)", said[-1]):
            wait_until_it_answers(int(re.search(r":(\d+)/", found[1])[1]))
            return process, found[1]


def wait_until_it_answers(port: int, seconds: float = 60) -> None:
    """Wait until a server takes connections: it names its address a moment before."""
    end = time.monotonic() + seconds
    while True:
        try:
            socket.create_connection(("localhost", port), timeout=5).close()
            return
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


def _drain(stream, lines: queue.Queue) -> None:
    """Keep reading, or a full pipe would stop the server."""
    with stream:
        for line in stream:
            lines.put(line)
    lines.put("")


def stop_lab(process: subprocess.Popen) -> None:
    """Stop a server; its kernels end with it."""
    process.terminate()
    try:
        process.wait(timeout=15)
    except subprocess.TimeoutExpired:  # a kernel that is just starting holds it up
        process.kill()
        process.wait(timeout=15)


@pytest.fixture(scope="session")
def course(tmp_path_factory) -> Path:
    """Folder of a small course."""
    return make_course(tmp_path_factory.mktemp("marsh-lane") / "course")


@pytest.fixture(scope="session")
def lab_address(needs_chromium, course):
    """Address that `coldbench lab` prints for the course."""
    process, address = start_lab(course)
    yield address
    stop_lab(process)


@pytest.fixture(scope="session")
def open_page(browser, lab_address):
    """Function that opens a path of the lab's server in a new page, signed in."""

    def opened(path: str):
        base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]
        page = browser.new_page(viewport={"width": 1400, "height": 950})
        page.set_default_timeout(120_000)  # a loaded machine takes its time
        # Afresh: tabs that an earlier page left open would lie over this one.
        page.goto(f"{base}{path}?token={token}&reset")
        return page

    return opened


@pytest.fixture(scope="session")
def run_first_code_cell():
    """Function that runs an open notebook's first code cell and waits until its panel answers."""

    def run(page):
        cell = page.locator(
            ".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Notebook .jp-CodeCell").first
        for _ in range(60):  # JupyterLab drops a run that comes before its kernel is ready
            # A run that comes too early may make it ask for the kernel it is just starting.
            page.evaluate("document.querySelector('.jp-Dialog .jp-mod-accept')?.click()")
            cell.locator(".cm-content").click(timeout=120_000)
            page.keyboard.press("Shift+Enter")
            page.wait_for_timeout(1500)
            if cell.locator(".jp-InputPrompt").inner_text() != "[ ]:":
                break
        page.wait_for_selector(".cb-panel:not(.cb-resting) input", timeout=120_000)

    return run


@pytest.fixture(scope="session")
def run_panel(open_page, run_first_code_cell, course):
    """Function that opens a notebook with one code cell, which shows a panel, and runs it."""

    def run(name: str, code: str, width: int = 1400, height: int = 950):
        path = f"release/{LAB}/{name}.ipynb"
        nbformat.write(notebook((("code", code), ("markdown", "Write it down."))), course / path)
        page = open_page(f"/lab/tree/{path}")
        page.set_viewport_size({"width": width, "height": height})
        run_first_code_cell(page)
        return page

    return run
