"""The pre-warmed parent: imports once what a lab needs, then forks a process per submission.

Started as `python -P -m coldbench.grading.parent UID GID` inside the sandbox. It never runs a
learner's code and holds no secret: no key, no database, no other submission. Each child gets
process, mount, IPC, host-name and user namespaces of its own and fresh scratch folders; it
cannot see its parent, so it can neither signal, trace nor write to it. When the child ends, the
kernel ends all that it started, before the next one is begun.

Orders come as packets on standard input, a local socket; a `run` brings two open files: the job,
and the pipe for the events. Answers go the same way.
"""

import contextlib
import gc
import importlib
import io
import json
import os
import random
import select
import signal
import socket
import sys
from pathlib import Path
from typing import Any

from coldbench.grading import kernel
from coldbench.grading.limits import Limits
from coldbench.grading.sandbox import HOME, HOST_NAME, SCRATCH, readable_paths, scratch_bytes
from coldbench.grading.shell import CellShell
from coldbench.grading.student import Reporter, take_channel, work

MOST_FILES_IN_SCRATCH = 50_000
LARGEST_ORDER = 1 << 18


class Parent:
    """Takes orders, and has at most one child at a time."""

    def __init__(self, control: socket.socket, uid: int, gid: int):
        self._control, self._uid, self._gid = control, uid, gid
        self._own_processes = os.open("/proc/self/ns/pid", os.O_RDONLY | os.O_CLOEXEC)
        self._folders = [str(path) for path in Path(HOME).rglob("*") if path.is_dir()]
        self._shell = CellShell()
        self._child: int | None = None
        self._watch: int | None = None

    def serve(self) -> None:
        """Follow orders until the grader hangs up."""
        while True:
            waited = [self._control] + ([self._watch] if self._watch is not None else [])
            ready, _, _ = select.select(waited, [], [])
            if self._watch in ready:
                self._end_child()
            if self._control in ready:
                data, files, _, _ = socket.recv_fds(self._control, LARGEST_ORDER, 2)
                if not data:
                    break
                self._follow(json.loads(data), files)

    def _follow(self, order: dict[str, Any], files: list[int]) -> None:
        if "import" in order:
            self._warm(order["import"])
        elif "run" in order:
            self._begin_child(order["limits"], *files)
        elif "stop" in order and self._child is not None:
            self._end_child()

    def _answer(self, **content: Any) -> None:
        self._control.send(json.dumps(content).encode())

    def _warm(self, names: list[str]) -> None:
        """Import modules, draw a figure, and put what is there out of the collector's reach."""
        for name in names:
            with contextlib.suppress(Exception):  # not all can be imported by themselves
                importlib.import_module(name)
        _draw_once()
        self._folders = [str(path) for path in Path(HOME).rglob("*") if path.is_dir()]
        gc.collect()
        gc.freeze()
        self._answer(ready=True, threads=len(os.listdir("/proc/self/task")))

    def _begin_child(self, limits: dict[str, float], job: int, events: int) -> None:
        kernel.unshare(kernel.NEW_PROCESSES)  # of the children to come, not of this process
        self._child = os.fork()
        if not self._child:
            self._be_first(limits, job, events)
        kernel.enter_namespace(self._own_processes, kernel.NEW_PROCESSES)
        self._watch = os.pidfd_open(self._child)
        os.close(job)
        os.close(events)

    def _end_child(self) -> None:
        """End the child's whole process namespace; the kernel lets us go on when all are gone."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self._child, signal.SIGKILL)
        os.waitpid(self._child, 0)
        os.close(self._watch)
        self._child = self._watch = None
        self._answer(ended=True)

    def _be_first(self, limits: dict[str, float], job: int, events: int) -> None:
        """The first process of a run's namespace: builds the walls, then only waits."""
        try:
            kernel.control_process(kernel.SET_PARENT_DEATH_SIGNAL, signal.SIGKILL)
            os.setsid()
            for descriptor in (self._control.fileno(), self._own_processes):
                os.close(descriptor)
            proc = self._build_walls(limits)
            learner = os.fork()
            if not learner:
                self._be_learner(proc, job, events)
            for descriptor in (proc, job, events):
                os.close(descriptor)
            while os.wait()[0] != learner:
                pass
        except BaseException as error:
            _say_unfit(events, error)
        finally:
            os._exit(0)

    def _build_walls(self, limits: dict[str, float]) -> int:
        kernel.unshare(kernel.NEW_MOUNTS | kernel.NEW_NAMES | kernel.NEW_IPC)
        kernel.mount("none", "/", "", kernel.RECURSIVE | kernel.PRIVATE)
        fresh_scratch(scratch_bytes(Limits(**limits)))
        proc = fresh_proc()
        socket.sethostname(HOST_NAME)
        for folder in (HOME, *self._folders):
            os.makedirs(folder, exist_ok=True)
        os.chdir("/lab")
        return proc

    def _be_learner(self, proc: int, job: int, events: int) -> None:
        """The process that will run the learner's code."""
        try:
            kernel.control_process(kernel.SET_DUMPABLE, 1)
            own_users(proc, self._uid, self._gid)
            kernel.drop_capabilities()
            kernel.control_process(kernel.SET_NO_NEW_PRIVILEGES, 1)
            with os.fdopen(job, "rb") as stream:
                content = json.loads(stream.read())
            reporter = Reporter(take_channel(events))
            os.close(events)
            fresh_seeds()
        except BaseException as error:
            _say_unfit(events, error)
            os._exit(1)
        work(content, reporter, self._shell)


def _say_unfit(events: int, error: BaseException) -> None:
    """Tell the grader that the walls could not be built; no learner's code has run yet."""
    with contextlib.suppress(OSError):
        reason = f"{type(error).__name__}: {error}"[:300]
        os.write(events, json.dumps({"unfit": reason}).encode() + b"\n")


def fresh_scratch(size: int) -> None:
    """Lay empty folders of memory over those a run may write [size: bytes of each]."""
    inside = [path for path in readable_paths()
              if path.startswith(tuple(f"{folder}/" for folder in SCRATCH))
              and os.path.exists(path)]
    kept = [(path, os.open(path, os.O_PATH | os.O_CLOEXEC)) for path in inside]
    for folder in SCRATCH:
        kernel.mount("tmpfs", folder, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES,
                     f"size={size},nr_inodes={MOST_FILES_IN_SCRATCH},mode=0755")
    for path, descriptor in kept:  # this Python itself may lie below one of them
        os.makedirs(path, exist_ok=True)
        kernel.bind_read_only(f"/proc/self/fd/{descriptor}", path)
        os.close(descriptor)


def fresh_proc() -> int:
    """Show the run's own processes and no others, not to be written.

    To the super-user's own runs, the kernel's settings would lie open even without rights.
    Returns the folder of a second, covered one, through which ids can be set.
    """
    flags = kernel.NO_SUID | kernel.NO_DEVICES | kernel.NO_EXEC
    kernel.mount("proc", "/proc", "proc", flags)
    settings = os.open("/proc", os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    kernel.mount("proc", "/proc", "proc", flags)
    kernel.mount("", "/proc", "", flags | kernel.BIND | kernel.REMOUNT | kernel.READ_ONLY)
    return settings


def own_users(proc: int, uid: int, gid: int) -> None:
    """Enter a user namespace of one's own, with the ids that the run shall see.

    proc [folder of a /proc that can be written]. Where memory runs short, this process ends first.
    """
    kernel.unshare(kernel.NEW_USERS)
    for file, text in (("setgroups", "deny"), ("uid_map", f"{uid} 0 1"), ("gid_map", f"{gid} 0 1"),
                       ("oom_score_adj", "1000")):
        with open(os.open(f"self/{file}", os.O_WRONLY, dir_fd=proc), "w") as stream:
            stream.write(text)
    os.close(proc)


def fresh_seeds() -> None:
    """Give each child random numbers of its own."""
    random.seed()
    if numpy := sys.modules.get("numpy"):
        numpy.random.seed()


def _draw_once() -> None:
    """Draw a figure and throw it away: fonts and back end are then ready."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    axes = figure.subplots()
    axes.plot([0, 1], [0, 1], label="a")
    axes.set_title("$T$ = 1 °C")
    axes.legend()
    FigureCanvasAgg(figure).print_figure(io.BytesIO(), format="png", bbox_inches="tight")


def main() -> None:
    """Serve on standard input."""
    control = socket.socket(fileno=os.dup(0))
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    kernel.control_process(kernel.SET_DUMPABLE, 0)  # its memory is nobody's to read
    Parent(control, int(sys.argv[1]), int(sys.argv[2])).serve()
    os._exit(0)


if __name__ == "__main__":
    main()
