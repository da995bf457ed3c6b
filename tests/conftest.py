"""Rules of testing, and the few helpers that all tests share.

1. A test stands in the folder named after what it needs: unit (nothing), reference (published
   figures or another library), integration (processes, files, marking), browser (Chromium),
   benchmarks (ratios of speed).
2. A figure from outside the project names its published source beside the check, or is marked
   "common practice" or "from memory". A tolerance is never widened to make a test pass.
3. A test can fail: seed the error once and see it caught. Laws get property tests.
4. Warnings are errors. A third party's warning is let through in pyproject.toml, for that one
   message, with the reason beside it; ours are mended.
5. Nothing is timed outside tests/benchmarks, and there only as a ratio to an alternative
   measured in the same run.
6. A system part that may be absent is asked for by a mark or fixture of the same name:
   `needs_chromium`, `needs_ngspice`, `needs_sandbox`, `needs_install`, `needs_postgresql`.
   Absent, the test is skipped with the reason; with COLDBENCH_REQUIRE_BROWSER, _NGSPICE,
   _SANDBOX, _INSTALL or _POSTGRESQL set to 1 it fails instead. Tests skip for no other reason.
7. Tests write only into `tmp_path`. Home, Jupyter, IPython and matplotlib folders are
   temporary ones, so a person's own settings change nothing and stay unchanged.
8. A test is called the same in every process that collects it: no time, address or order of a
   set in its name.
"""

import atexit
import functools
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import hypothesis
import pytest

# Where pip keeps what it has fetched; noted before HOME is replaced.
os.environ.setdefault(
    "PIP_CACHE_DIR",
    os.path.join(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"), "pip"),
)
HOME = tempfile.mkdtemp(prefix="coldbench-tests-")
atexit.register(shutil.rmtree, HOME, ignore_errors=True)
os.environ.update({
    "HOME": HOME,
    "USERPROFILE": HOME,
    "XDG_CACHE_HOME": f"{HOME}/.cache",
    "XDG_CONFIG_HOME": f"{HOME}/.config",
    "XDG_DATA_HOME": f"{HOME}/.local/share",
    "IPYTHONDIR": f"{HOME}/ipython",
    "JUPYTER_CONFIG_DIR": f"{HOME}/jupyter/config",
    "JUPYTER_DATA_DIR": f"{HOME}/jupyter/data",
    "JUPYTER_RUNTIME_DIR": f"{HOME}/jupyter/runtime",
    "JUPYTER_PLATFORM_DIRS": "1",
    "MPLCONFIGDIR": f"{HOME}/matplotlib",
    "MPLBACKEND": "Agg",
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
})

# Whole courses that tests grade are data: nothing in them is a test or a documented module.
collect_ignore_glob = ["*/*_course/*"]

hypothesis.settings.register_profile(
    "coldbench",
    derandomize=True,  # the same examples on every machine: a red test stays red
    max_examples=100,
    deadline=None,  # nothing is timed outside tests/benchmarks
    database=None,
)
hypothesis.settings.load_profile("coldbench")


# --- sharing the work between processes -----------------------------------------------------

# Long files first, so that no process is left alone with one at the end.
FOLDERS = ("tests/browser", "tests/integration", "tests/benchmarks", "tests/reference",
           "tests/unit", "labs")
# Files of these folders stay in one process: they share a lab's server or measure ratios.
TOGETHER = ("tests/browser", "tests/benchmarks")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Processes for `-n auto`: as many as there are processors, but there is little to share."""
    usable = getattr(os, "sched_getaffinity", None)
    return min(len(usable(0)) if usable else os.cpu_count() or 1, 4)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log):
    """Hand out whole files, in the order of FOLDERS: a module's fixtures are made once."""
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return next((folder for folder in TOGETHER if file.startswith(f"{folder}/")), file)

    config.option.loadscopereorder = False
    return ByFile(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """In a process that shares the work, put the tests into the order of FOLDERS."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: next(
            (k for k, folder in enumerate(FOLDERS) if item.nodeid.startswith(f"{folder}/")),
            len(FOLDERS)))


@pytest.fixture
def tell(record_property):
    """Function that has a line printed at the end of the run, whichever process found it."""
    return lambda line: record_property("told", line)


def pytest_terminal_summary(terminalreporter) -> None:
    """Print what tests told."""
    ended = [*terminalreporter.stats.get("passed", ()), *terminalreporter.stats.get("failed", ())]
    lines = [line for report in ended for name, line in report.user_properties if name == "told"]
    if lines:
        terminalreporter.section("figures")
        for line in lines:
            terminalreporter.write_line(line)


# --- system parts that may be absent --------------------------------------------------------


@functools.cache
def chromium() -> str | None:
    """Path of a Chromium [str], or None."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome")
    return next(filter(None, map(shutil.which, names)), None)


@functools.cache
def ngspice() -> str | None:
    """Path of ngspice [str], or None."""
    return shutil.which("ngspice")


def sandbox() -> str | None:
    """Path of a bubblewrap that can really make its namespaces here [str], or None."""
    from coldbench.grading.sandbox import find_bubblewrap, missing_for_bubblewrap

    return None if missing_for_bubblewrap() else find_bubblewrap()


@functools.cache
def package_index() -> str | None:
    """The word pip if it can download a package [str], or None when offline."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps",
                   "--retries", "0", "--timeout", "10", "--dest", folder, "hatchling"]
        found = subprocess.run(command, capture_output=True, timeout=120)
    return "pip" if found.returncode == 0 else None


@functools.cache
def postgresql() -> str | None:
    """Folder of PostgreSQL's server programs [str], or None; root needs runuser beside them."""
    beside = [str(path) for path in Path("/usr/lib/postgresql").glob("*/bin")]
    path = os.pathsep.join([*sorted(beside, reverse=True), os.environ.get("PATH", "")])
    found = shutil.which("pg_ctl", path=path)
    if found is None or (os.geteuid() == 0 and shutil.which("runuser") is None):
        return None
    return str(Path(found).resolve().parent)


# mark and fixture name: (how to find the part, what demands it, what to say without it)
PARTS = {
    "needs_chromium": (chromium, "COLDBENCH_REQUIRE_BROWSER", "no Chromium on PATH"),
    "needs_ngspice": (ngspice, "COLDBENCH_REQUIRE_NGSPICE", "no ngspice on PATH"),
    "needs_sandbox": (sandbox, "COLDBENCH_REQUIRE_SANDBOX",
                      "bubblewrap is absent or may not make namespaces here"),
    "needs_install": (package_index, "COLDBENCH_REQUIRE_INSTALL",
                      "pip cannot reach a package index"),
    "needs_postgresql": (postgresql, "COLDBENCH_REQUIRE_POSTGRESQL",
                         "no PostgreSQL server programs are installed"),
}


def part_or_outcome(name: str) -> str:
    """Path of a system part [str]; skips the test without it, or fails it if demanded."""
    find, demanded_by, absent = PARTS[name]
    found = find()
    if found is None and os.environ.get(demanded_by) == "1":
        pytest.fail(f"{absent}, and {demanded_by}=1 demands it", pytrace=False)
    if found is None:
        raise pytest.skip.Exception(absent)
    return found


def pytest_configure(config: pytest.Config) -> None:
    """Make the marks known."""
    for name, (_, demanded_by, absent) in PARTS.items():
        config.addinivalue_line(
            "markers", f"{name}: skipped when {absent}; fails instead if {demanded_by}=1")


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Apply the marks."""
    for name in PARTS:
        if item.get_closest_marker(name):
            part_or_outcome(name)


@pytest.fixture(scope="session")
def needs_chromium() -> str:
    """Path of Chromium [str]."""
    return part_or_outcome("needs_chromium")


CHROMIUM_FLAGS = [
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def browser(needs_chromium):
    """A headless Chromium with a profile of its own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=needs_chromium, args=CHROMIUM_FLAGS, headless=True
        )
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def needs_ngspice() -> str:
    """Path of ngspice [str]."""
    return part_or_outcome("needs_ngspice")


@pytest.fixture(scope="session")
def needs_sandbox() -> str:
    """Path of a working bubblewrap [str]."""
    return part_or_outcome("needs_sandbox")


@pytest.fixture(scope="session")
def needs_install() -> str:
    """A pip that reaches a package index."""
    return part_or_outcome("needs_install")


@pytest.fixture(scope="session")
def needs_postgresql() -> str:
    """Folder of PostgreSQL's server programs [str]."""
    return part_or_outcome("needs_postgresql")


# --- a kit small enough to set up in seconds, without a network -----------------------------

SMALL_PROJECT = """
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]
"""
SMALL_BACKEND = """
import os, zipfile
INFO = "coldbench-0.dist-info/"
FILES = {
    "coldbench_small.pth": os.path.join(os.getcwd(), "labs"),
    INFO + "METADATA": "Metadata-Version: 2.1\\nName: coldbench\\nVersion: 0\\n"
                       "Provides-Extra: test\\n",
    INFO + "WHEEL": "Wheel-Version: 1.0\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    INFO + "RECORD": "",
}
def build_editable(folder, config_settings=None, metadata_directory=None):
    name = "coldbench-0-py3-none-any.whl"
    with zipfile.ZipFile(os.path.join(folder, name), "w") as wheel:
        for path, text in FILES.items():
            wheel.writestr(path, text)
    return name
"""
SMALL_COMMAND = """
import os, sys
def main():
    print(os.path.basename(sys.argv[0]), *sys.argv[1:], "in", os.getcwd())
    sys.exit(7 if "seven" in sys.argv else 0)
if __name__ == "__main__":
    main()
"""


class SmallKit:
    """The real `python3 labs` and `python3 tests` around a package that only prints its words.

    Its build needs no download, so that only Python's venv and pip do any work.
    """

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()
        self.venv = self.root / ".venv"
        repository = Path(__file__).resolve().parents[1]
        for name in ("labs/__main__.py", "labs/bootstrap.py", "labs/pip_progress.py",
                     "tests/__main__.py"):
            self.write(name, (repository / name).read_text("utf-8"))
        self.write("pyproject.toml", SMALL_PROJECT)
        self.write("constraints.txt", "")
        self.write("backend.py", SMALL_BACKEND)
        self.write("labs/coldbench/__init__.py", "")
        self.write("labs/coldbench/cli.py", SMALL_COMMAND)
        self.write("labs/pytest.py", SMALL_COMMAND)

    def write(self, name: str, text: str) -> None:
        """Write one file of the kit."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")

    def command(self, *words: str, python: str | None = None) -> list[str]:
        """`python3 WORDS…` with the Python beneath any virtual environment."""
        return [python or getattr(sys, "_base_executable", sys.executable), *words]

    def run(self, *words: str, python: str | None = None, pip_fails: bool = False,
            folder: Path | None = None) -> subprocess.CompletedProcess[str]:
        """Run `python3 WORDS…` in the kit; with `pip_fails` any call of pip ends in an error."""
        broken = {"PIP_CONSTRAINT": "/absent/constraints.txt"} if pip_fails else {}
        return subprocess.run(self.command(*words, python=python), cwd=folder or self.root,
                              env=os.environ | broken, capture_output=True, text=True,
                              timeout=120)


@pytest.fixture
def small_kit(tmp_path: Path) -> SmallKit:
    """A small kit in a folder whose name has a space; nothing is set up yet."""
    return SmallKit(tmp_path / "small kit")


@pytest.fixture(scope="module")
def ready_kit(tmp_path_factory: pytest.TempPathFactory) -> SmallKit:
    """A small kit set up once for a whole module; each test leaves it repairable."""
    kit = SmallKit(tmp_path_factory.mktemp("ready") / "kit")
    first = kit.run("labs")
    assert first.returncode == 0, first.stderr
    return kit


def pytest_make_parametrize_id(val, argname):
    """Bytes are numbered, not spelt out: packed ones hold the second in which they were packed."""
    return argname if isinstance(val, bytes) else None
