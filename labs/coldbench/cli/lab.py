"""`coldbench lab`: JupyterLab on the labs' start page, set up for learners.

What it changes, for this one server only (the user's own settings stay as they are):
- widget state is saved, so that a saved notebook shows each panel's last setting, in print too;
- a notebook exported as HTML takes its pictures along;
- single keys that insert, cut, copy, paste, merge or convert cells are off;
- no question about news, no check for updates;
- Markdown files open as pages to read;
- small messages from a kernel reach the page at once (see `prompt_channel`);
- nbgrader's *Validate* and, in a course, its form for marking by hand; its exchange is off.

The changes lie in a temporary folder that is put in front of JUPYTER_CONFIG_PATH.
"""

import hashlib
import json
import os
import secrets
import socket
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

import typer

from coldbench.errors import InputError
from coldbench.grading.course import MARKER, Course, read_course

START_PAGE = "start.md"
DEFAULT_PORT = 8888
UNSAFE_KEYS = {
    "A", "B", "C", "V", "X", "M", "R", "Y", "D", "1", "2", "3", "4", "5", "6",
    "Shift A", "Shift B", "Shift M",
}  # fmt: skip
"""Command-mode keys that insert, copy, paste, cut, convert, delete or merge cells."""

PRINT_STEP = "coldbench.panels.printing.LastSetting"

_FORM = "@jupyter/nbgrader:formgrader"
_CLASSROOM_EXCHANGE = ("assignment-list", "course-list", "create-assignment")


@dataclass(frozen=True)
class Desk:
    """What JupyterLab opens: a folder, the start page in it, and the course if there is one."""

    root: Path
    page: Path | None
    course: Course | None = None


def command(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="[DIR]", help="A course, or a folder of labs; default: here."),
    ] = None,
    port: Annotated[
        int | None, typer.Option(help="Port; default: 8888, or the next free one.")
    ] = None,
    browser: Annotated[bool, typer.Option(help="Open a browser.")] = True,
) -> None:
    """Open JupyterLab on the labs' start page."""
    desk = find_desk(folder or Path.cwd())
    if port is not None:
        _require_free(port)
    with tempfile.TemporaryDirectory(prefix="coldbench-lab-") as settings:
        write_settings(Path(settings), desk.course)
        _prepare_environment(Path(settings), desk.course)
        _serve(desk, port, browser)


def find_desk(folder: Path) -> Desk:
    """Find the course around a folder, or the folder of labs itself.

    Raises
    ------
    InputError : neither a course nor a folder of labs
    """
    folder = Path(folder).resolve()
    if not folder.is_dir():
        raise InputError(f"{folder} is not a folder; give a course or a folder of labs")
    for place in (folder, *folder.parents):
        if (place / MARKER).is_file():
            course = read_course(place)
            page = _start_page(course.release) if course.release.is_dir() else None
            return Desk(place, page, course)
    if (folder / START_PAGE).is_file() or any(folder.glob("*/lab.toml")):
        return Desk(folder, _start_page(folder))
    raise InputError(
        f"{folder} is neither a course (a folder with {MARKER.as_posix()}) nor a folder of labs "
        f"(folders with lab.toml, or a {START_PAGE})"
    )


def write_settings(place: Path, course: Course | None) -> None:
    """Write the settings of this one server into a folder for JUPYTER_CONFIG_PATH."""
    lab = place / "labconfig"
    lab.mkdir(parents=True)
    off = [f"@jupyter/nbgrader:{name}" for name in _CLASSROOM_EXCHANGE]
    off += [] if course else [_FORM]
    _write(lab / "page_config.json", {"disabledExtensions": dict.fromkeys(off, True)})
    _write(lab / "default_setting_overrides.json", _overrides())
    extensions = {
        "nbgrader.server_extensions.assignment_list": False,
        "nbgrader.server_extensions.course_list": False,
        "nbgrader.server_extensions.validate_assignment": True,
        "nbgrader.server_extensions.formgrader": course is not None,
    }
    _write(place / "jupyter_server_config.json",
           {"ServerApp": {"jpserver_extensions": extensions},
            "Exporter": {"preprocessors": [PRINT_STEP]},
            "HTMLExporter": {"embed_images": True}})  # fmt: skip


def _overrides() -> dict:
    return {
        "@jupyter-widgets/jupyterlab-manager:plugin": {"saveState": True},
        "@jupyterlab/apputils-extension:notification": {
            "fetchNews": "false",
            "checkForUpdates": False,
        },
        "@jupyterlab/docmanager-extension:plugin": {
            "defaultViewers": {"markdown": "Markdown Preview"}
        },
        "@jupyterlab/shortcuts-extension:shortcuts": {"shortcuts": _unsafe_shortcuts()},
    }


def _unsafe_shortcuts() -> list[dict]:
    """The notebook's shortcuts on unsafe keys, switched off, read from this JupyterLab."""
    from jupyterlab.commands import get_app_dir

    schema = Path(get_app_dir(), "schemas/@jupyterlab/notebook-extension/tracker.json")
    shortcuts = json.loads(schema.read_text(encoding="utf-8"))["jupyter.lab.shortcuts"]
    return [
        {key: entry[key] for key in ("command", "keys", "selector")} | {"disabled": True}
        for entry in shortcuts
        if entry.get("keys") and entry["keys"][0] in UNSAFE_KEYS
    ]


def _start_page(release: Path) -> Path | None:
    """The start page of a folder of labs; written if it is missing and may be written."""
    from coldbench.grading.start_page import write_start_page

    page = release / START_PAGE
    if page.is_file():
        return page
    try:
        return write_start_page(release)
    except OSError:
        return None


def _prepare_environment(settings: Path, course: Course | None) -> None:
    """Point Jupyter, nbgrader and the kernels at this course and this Python."""
    config = [str(settings)] + ([str(course.desk)] if course else [])
    config += filter(None, [os.environ.get("JUPYTER_CONFIG_PATH")])
    os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join(config)
    # nbgrader's form calls `alembic` by name.
    programs = str(Path(sys.executable).parent)
    os.environ["PATH"] = os.pathsep.join((programs, os.environ.get("PATH", "")))


def _serve(desk: Desk, port: int | None, browser: bool) -> None:
    """Start JupyterLab, print its address, and serve until it is stopped."""
    from jupyterlab.labapp import LabApp

    token = secrets.token_hex(24)
    server = LabApp.initialize_server(argv=_arguments(desk, port, browser, token))
    _show_names_as_text(server)
    print(f"Coldbench labs in {desk.root}", flush=True)
    address = f"{server.connection_url.rstrip('/')}{_first_page(desk)}?token={token}"
    print(f"Open {address}", flush=True)
    print("Stop with Ctrl+C.", flush=True)
    server.start()


def _show_names_as_text(server: Any) -> None:
    """Let nbgrader's pages escape the ids they show; its templates would take them as markup."""
    pages = server.web_app.settings.get("nbgrader_jinja2_env")
    if pages is not None:
        pages.autoescape = True


def _arguments(desk: Desk, port: int | None, browser: bool, token: str) -> list[str]:
    arguments = [
        f"--ServerApp.root_dir={desk.root}",
        f"--ServerApp.port={port or DEFAULT_PORT}",
        f"--ServerApp.port_retries={50 if port is None else 0}",
        f"--ServerApp.open_browser={browser}",
        f"--LabApp.open_browser={browser}",
        f"--LabApp.default_url={_first_page(desk)}",
        f"--IdentityProvider.token={token}",
        "--LabApp.news_url=None",
        "--ServerApp.kernel_websocket_connection_class=coldbench.cli.prompt_channel.PromptChannel",
        "--Application.log_level=WARN",
    ]
    if getattr(os, "geteuid", lambda: 1)() == 0:
        print("coldbench: JupyterLab runs as the administrator; a user's account is safer",
              file=sys.stderr)  # fmt: skip
        arguments.append("--ServerApp.allow_root=True")
    return arguments


def _first_page(desk: Desk) -> str:
    """Address of the start page, in a workspace of this folder's own: no other work mixes in."""
    name = hashlib.sha256(str(desk.root).encode()).hexdigest()[:12]
    workspace = f"/lab/workspaces/coldbench-{name}"
    if desk.page is None:
        return workspace
    return f"{workspace}/tree/{quote(desk.page.relative_to(desk.root).as_posix())}"


def _require_free(port: int) -> None:
    if not 0 < port < 65536:
        raise InputError(f"port {port} does not exist; accepted: 1 to 65535")
    with socket.socket() as trial:
        if sys.platform != "win32":
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            raise InputError(
                f"port {port} cannot be used here; give another --port, or none"
            ) from None


def _write(path: Path, content: dict) -> None:
    path.write_text(json.dumps(content, indent=1), encoding="utf-8")
