"""Imports between the rooms of `labs/coldbench` point one way, and Jupyter stays in the late rooms.

Read from the source with `ast`, so that an import inside a function counts like any other.
"""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "labs" / "coldbench"

# Each room may import the rooms in earlier lines, not its neighbours in the same line.
ORDER = (
    {"errors"},
    {"quantity"},
    {"air"},
    {"refrigerant", "electrical"},
    {"sensing"},
    {"control"},
    {"bench"},
    {"diagnosis"},
    {"worksheet"},
    {"panels", "grading"},
    {"cli"},
)
RANK = {room: rank for rank, rooms in enumerate(ORDER) for room in rooms}
NOTEBOOK_RANK = RANK["worksheet"]  # the first room that may know of notebooks and drawing
NOTEBOOK_PACKAGES = {
    "IPython", "anywidget", "ipykernel", "ipywidgets", "jupyter", "jupyter_client",
    "jupyter_core", "jupyter_server", "jupyterlab", "jupytext", "matplotlib", "nbclient",
    "nbconvert", "nbformat", "nbgrader", "notebook", "traitlets",
}


def imported_names(source: str, module: str) -> list[str]:
    """Absolute dotted names that a module imports, also lazily or by a literal name.

    Parameters: source, the module's text; module, its dotted name ("coldbench.air" for the
    `__init__.py` of a package must be given as "coldbench.air.__init__").
    """
    names = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            package = module.split(".")[: -node.level] if node.level else []
            base = ".".join(package + ([node.module] if node.module else []))
            names += [f"{base}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and called_name(node) in ("import_module", "__import__"):
            names += [a.value for a in node.args[:1] if isinstance(a, ast.Constant)]
    return names


def called_name(call: ast.Call) -> str:
    """Last part of the called function's name, or ""."""
    return getattr(call.func, "attr", getattr(call.func, "id", ""))


def wrong_imports(source: str, module: str) -> list[str]:
    """One sentence for each import that the order forbids."""
    room = module.split(".")[1]
    if room == "__init__":
        return [f"{module} imports {name}; importing the package must load no room"
                for name in imported_names(source, module)]
    if room not in RANK:
        return [f"{module}: the room {room} has no place in the order"]
    return [problem for name in imported_names(source, module)
            if (problem := why_wrong(module, room, name))]


def why_wrong(module: str, room: str, name: str) -> str | None:
    """Why `room` may not import `name`, or None if it may."""
    top, *rest = name.split(".")
    if top != "coldbench":
        early = RANK[room] < NOTEBOOK_RANK and top in NOTEBOOK_PACKAGES
        return f"{module} imports {name}, which only worksheet and later may" if early else None
    if not rest or rest[0] in (room, "errors", "__version__"):
        return None
    if rest[0] not in RANK:
        return f"{module} imports {name}, and {rest[0]} has no place in the order"
    if RANK[rest[0]] >= RANK[room]:
        return f"{module} imports {name}, but {room} does not come after {rest[0]}"
    return None


def module_name(path: Path) -> str:
    """Dotted name of a source file of the package, `__init__` kept."""
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)


def test_every_import_points_along_the_order():
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 3
    problems = [problem for path in files
                for problem in wrong_imports(path.read_text("utf-8"), module_name(path))]
    assert not problems, "\n".join(problems)


@pytest.mark.parametrize(("module", "source"), [
    ("coldbench.quantity.convert", "from coldbench.refrigerant import fluid"),
    ("coldbench.quantity.convert", "import coldbench.bench.file"),
    ("coldbench.quantity.convert", "from coldbench import worksheet"),
    ("coldbench.quantity.convert", "from ..cli import app"),
    ("coldbench.quantity.__init__", "from ..air import standard_atmosphere_pressure"),
    ("coldbench.air.standard", "from coldbench.refrigerant import fluid"),
    ("coldbench.panels.still", "from coldbench.grading import record"),
    ("coldbench.bench.file", "def draw():\n    import matplotlib.pyplot as plt"),
    ("coldbench.diagnosis.tree", "def show():\n    from IPython.display import HTML"),
    ("coldbench.control.head", "import importlib\nimportlib.import_module('nbgrader.api')"),
    ("coldbench.sensing.table", "__import__('coldbench.control')"),
    ("coldbench.gauges.dial", "x = 1"),
    ("coldbench.air.standard", "from coldbench.gauges import dial"),
    ("coldbench.errors", "from coldbench.quantity import parse"),
    ("coldbench.__init__", "from coldbench.quantity import parse"),
])
def test_a_wrong_import_is_caught(module, source):
    assert len(wrong_imports(source, module)) == 1


@pytest.mark.parametrize(("module", "source"), [
    ("coldbench.refrigerant.fluids", "from coldbench.quantity import parse"),
    ("coldbench.refrigerant.fluids", "from .saturation import table\nfrom . import saturation"),
    ("coldbench.refrigerant.fluids", "from coldbench.errors import InputError\nimport numpy"),
    ("coldbench.worksheet.sheet", "def show():\n    from IPython.display import HTML"),
    ("coldbench.cli.app", "from coldbench import __version__\nfrom coldbench.panels import still"),
])
def test_a_right_import_is_let_through(module, source):
    assert wrong_imports(source, module) == []


def test_importing_the_package_loads_nothing_heavy():
    heavy = ("numpy", "scipy", "pint", "CoolProp", "IPython", "matplotlib", "nbgrader", "typer")
    check = f"import sys, coldbench; print([name for name in {heavy!r} if name in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True,
                            check=True)
    assert answer.stdout.strip() == "[]"
