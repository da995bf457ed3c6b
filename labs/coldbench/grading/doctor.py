"""What this machine offers for grading, and what is missing, in words."""

import importlib.metadata
import json
import os
import platform
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.executors import cores
from coldbench.grading.limits import Limits, limits_from
from coldbench.grading.sandbox import (
    BUBBLEWRAP, find_bubblewrap, missing_for_bubblewrap,
)

GOOD, LIMITED, BAD = "good", "limited", "missing"
LEAST_DISK_MB = 1000
PACKAGES = ("coldbench", "nbgrader", "jupyterlab", "ipython", "nbformat", "sqlalchemy",
            "matplotlib", "numpy", "CoolProp")
OPTIONAL = {  # package → what it is for, the extra of coldbench that brings it
    "distributed": ("grading on a Dask cluster", "cluster"),
    "psycopg": ("a gradebook in PostgreSQL", "postgresql"),
}
# Looks at the walls from inside, as a learner's code would.
PROBE = """
import json, os, resource, socket
def refused(act):
    try:
        act()
    except OSError:
        return True
    return False
def network():
    socket.create_connection(("192.0.2.1", 80), 2)
def forks():
    made = []
    try:
        for _ in range(@PROCESSES@ + 8):
            child = os.fork()
            if not child:
                import time
                time.sleep(30)
                os._exit(0)
            made.append(child)
    finally:
        for child in made:
            os.kill(child, 9)
            os.waitpid(child, 0)
status = dict(line.split(":", 1) for line in open("/proc/self/status") if ":" in line)
space = os.statvfs(os.getcwd())
print(json.dumps({
    "network": refused(network),
    "system": refused(lambda: open("/usr/coldbench-probe", "w")),
    "processes": len([name for name in os.listdir("/proc") if name.isdigit()]) <= 4,
    "rights": int(status["CapEff"], 16) == 0 and status["NoNewPrivs"].strip() == "1",
    "calls": status["Seccomp"].strip() == "2",
    "memory": resource.getrlimit(resource.RLIMIT_AS)[0] > 0,
    "file": resource.getrlimit(resource.RLIMIT_FSIZE)[0] > 0,
    "processor": resource.getrlimit(resource.RLIMIT_CPU)[0] > 0,
    "scratch": space.f_blocks * space.f_frsize < 10e9,
    "forks": refused(forks)}))
"""
WALLS = {
    "network": "the network is off",
    "system": "the system and the course cannot be written",
    "processes": "other processes are out of sight",
    "rights": "no right of the super-user, and none can be gained",
    "calls": "the kernel refuses calls that no lab needs (seccomp)",
    "memory": "memory of a process is limited",
    "forks": "the number of processes is limited",
    "processor": "processor time is limited",
    "file": "the size of a file is limited",
    "scratch": "scratch space is private and limited",
}


@dataclass(frozen=True)
class Finding:
    """One thing looked at: subject, state (good, limited or missing) and a sentence."""

    subject: str
    state: str
    sentence: str


def examine(course: Course | None) -> Iterator[Finding]:
    """Look at this machine [course: None outside any], and give one finding after the other."""
    yield Finding("machine", GOOD, f"{platform.system()} {platform.release()}, Python "
                  f"{platform.python_version()}, {cores()} cores, {_memory()}")
    yield from _sandbox(course)
    yield from _versions()
    yield from _alembic()
    yield from _course(course)
    yield from _disk(course)


def _memory() -> str:
    try:
        size = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return "memory unknown"
    return f"{size / 1e9:.0f} GB of memory"


def _sandbox(course: Course | None) -> Iterator[Finding]:
    if missing := missing_for_bubblewrap():
        yield Finding("sandbox", BAD, f"{missing}. `coldbench grade` refuses to run here unless "
                      "told --no-sandbox: learners' code would then run with your own rights, "
                      "within limits only. Marks are safe either way.")
        return
    yield Finding("sandbox", GOOD, f"bubblewrap at {find_bubblewrap()}")
    limits = limits_from(course.limits) if course else Limits()
    yield from _walls("cold start", lambda: _probe(limits, None))
    yield from _warm_walls(limits)
    yield _groups(limits)


def _warm_walls(limits: Limits) -> Iterator[Finding]:
    from coldbench.grading.warm import WarmParent

    parent = WarmParent("doctor", [], [], limits)
    try:
        yield from _walls("warm workers", lambda: _probe(limits, parent))
    finally:
        parent.close()


def _probe(limits: Limits, parent: Any) -> dict[str, bool]:
    """Run the probe as a learner's cell; raises InputError when it does not come to its end."""
    from coldbench.grading.run import run_cells

    code = PROBE.replace("@PROCESSES@", str(int(limits.processes)))
    run = run_cells([{"id": "probe", "source": code}], "practice", [], BUBBLEWRAP, limits,
                    parent=parent, cold_instead=False)
    try:
        return json.loads(run.outputs["probe"][0]["text"])
    except (KeyError, IndexError, ValueError):
        raise InputError("; ".join([*run.states.values(), *run.notices])) from None


def _walls(how: str, probe: Callable[[], dict[str, bool]]) -> Iterator[Finding]:
    try:
        found = probe()
    except InputError as error:
        yield Finding(how, LIMITED if how.startswith("warm") else BAD,
                      f"does not work here ({error})" + ("; Python is started anew for each "
                                                         "submission, which is slower"
                                                         if how.startswith("warm") else ""))
        return
    open_ = [WALLS[name] for name, closed in found.items() if not closed]
    if open_:
        yield Finding(how, LIMITED, f"NOT in force: {'; '.join(open_)}")
    closed = [WALLS[name] for name, closed in found.items() if closed]
    yield Finding(how, GOOD, f"tried from inside: {'; '.join(closed)}")


def _groups(limits: Limits) -> Finding:
    from coldbench.grading.cgroup import ControlGroup

    group = ControlGroup(limits.memory_MB, int(limits.processes))
    kept = sorted(group.limits)
    group.close()
    if len(kept) == 2:
        return Finding("control groups", GOOD, "memory and number of processes of a whole run "
                       "are limited")
    return Finding("control groups", LIMITED, "this user may make none, so memory is limited for "
                   "each process, not for a whole run")


def _versions() -> Iterator[Finding]:
    known = {name: _version(name) for name in PACKAGES}
    said = ", ".join(f"{name} {version}" for name, version in known.items() if version)
    yield Finding("versions", GOOD, said)
    if absent := [name for name, version in known.items() if not version and name != "coldbench"]:
        yield Finding("versions", BAD, f"not installed: {', '.join(absent)}")
    for name, (use, extra) in OPTIONAL.items():
        version = _version(name)
        yield Finding(name, GOOD if version else LIMITED,
                      f"{version}: {use}" if version else f"not installed; needed for {use}: "
                      f"pip install 'coldbench[{extra}]'")


def _version(package: str) -> str:
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return ""


def _alembic() -> Iterator[Finding]:
    from coldbench.grading.nbgrader_config import put_on_path

    put_on_path()
    program = shutil.which("alembic")
    yield Finding("nbgrader", GOOD if program else BAD,
                  f"its helper alembic is at {program}" if program
                  else "its helper alembic was not found beside Python; install nbgrader again")


def _course(course: Course | None) -> Iterator[Finding]:
    if course is None:
        yield Finding("course", LIMITED, "no course here: call this in a course folder, or add "
                      "--course DIR")
        return
    yield Finding("course", GOOD, f"{course.title!r} at {course.root}, code {course.code!r}, "
                  f"{len(course.labs())} labs")
    for folder in (course.source, course.desk):
        if not folder.is_dir():
            yield Finding("folders", BAD, f"{folder} is missing")
        elif not os.access(folder, os.W_OK):
            yield Finding("folders", BAD, f"{folder} cannot be written by this user")
    yield _gradebook(course)
    from coldbench.grading.submissions import misplaced

    if stray := misplaced(course):
        yield Finding("folders", LIMITED, f"{len(stray)} notebooks lie where no lab finds them, "
                      f"such as {stray[0]!r}; the place is submitted/LEARNER/LAB/LAB.ipynb")


def _gradebook(course: Course) -> Finding:
    from coldbench.grading.database import sqlite_file, spoken_address
    from coldbench.grading.gradebook import open_gradebook, quiet

    file = sqlite_file(course.gradebook_url)
    if file is not None and not file.exists():
        return Finding("gradebook", GOOD, f"{file}: will be made with the first marks")
    try:
        with quiet(), open_gradebook(course) as book:
            return Finding("gradebook", GOOD, f"{spoken_address(course.gradebook_url)}: opens, "
                           f"{len(book.students)} learners")
    except InputError as error:
        return Finding("gradebook", BAD, str(error))


def _disk(course: Course | None) -> Iterator[Finding]:
    places = {"desk": course.desk if course else Path.cwd(),
              "temporary files": Path(tempfile.gettempdir())}
    for name, place in places.items():
        if not place.exists():
            continue
        free_MB = shutil.disk_usage(place).free / 1e6
        yield Finding("disk", GOOD if free_MB > LEAST_DISK_MB else LIMITED,
                      f"{free_MB / 1000:.1f} GB free for {name} ({place})")


def can_grade(findings: list[Finding]) -> bool:
    """Say whether nothing is missing that grading needs."""
    return not any(finding.state == BAD for finding in findings)


__all__ = ["Finding", "can_grade", "examine"]
