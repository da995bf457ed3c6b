"""The learner's process: runs her cells and reports what happened. Never trusted.

Started as `python -P -m coldbench.grading.student` inside the sandbox, or forked there from a
pre-warmed parent (`parent.py`). A job comes on standard input or in an open file, events leave on
standard output or a pipe, one JSON line each:
    {"cell": id, "state": "ok" | "error" | "stopped", "note": …, "outputs": […]}
    {"record": {…}}     an answer
    {"claim": "ml-07"}  the id the notebook says it belongs to
Whatever the learner's code does to this process can change these events and nothing else.
"""

import base64
import contextlib
import json
import os
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from coldbench.grading.seccomp import refuse_calls

if TYPE_CHECKING:
    from coldbench.grading.shell import CellShell


MOST_OPEN_FILES = 1024  # of one process, as systems usually allow


class CellStopped(BaseException):
    """A cell ran longer than it may."""

    stops = True


class Reporter:
    """Writes events to the channel the grader reads."""

    def __init__(self, channel: BinaryIO):
        self._channel = channel

    def event(self, **content: Any) -> None:
        """Send one event."""
        self._channel.write(json.dumps(content).encode() + b"\n")
        self._channel.flush()


def take_channel(descriptor: int) -> BinaryIO:
    """Keep a descriptor for events; whatever else is written to 0, 1 and 2 goes nowhere."""
    channel = os.fdopen(os.dup(descriptor), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    return channel


def lay_out(files: list[tuple[str, str]]) -> None:
    """Put the files that lie beside the notebook into the working folder [name, base64]."""
    for name, data in files:
        path = Path(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(base64.b64decode(data))


def set_limits(limits: dict[str, float]) -> None:
    """Limit memory, files, processes and core dumps of this process and its children."""
    import resource

    wanted = {
        resource.RLIMIT_AS: int(limits["memory_MB"] * 1e6),
        resource.RLIMIT_FSIZE: int(limits["file_MB"] * 1e6),
        resource.RLIMIT_CPU: int(limits["notebook_seconds"]) + 5,
        resource.RLIMIT_NPROC: int(limits["processes"]),
        resource.RLIMIT_NOFILE: MOST_OPEN_FILES,  # the system has so many for all its users
        resource.RLIMIT_CORE: 0,
    }
    for kind, value in wanted.items():
        try:
            resource.setrlimit(kind, (value, value))
        except (ValueError, OSError):  # a lower hard limit is already in force
            continue
    with contextlib.suppress(OSError):  # where memory runs short, this process ends first
        Path("/proc/self/oom_score_adj").write_text("1000")


def stop_cell(signum: int, frame: Any) -> None:
    """Stop the running cell: its time is up."""
    raise CellStopped


def run_cells(job: dict[str, Any], reporter: Reporter, shell: "CellShell") -> None:
    """Run a job's cells in order, each within its time, reporting after each."""
    from coldbench.worksheet import channel
    from coldbench.worksheet.journal import JOURNAL_FILE

    shell.most = int(job["limits"]["cell_output_kB"] * 1000)
    folder = Path(os.environ["COLDBENCH_LAB"])
    channel.assign(job["learner"], folder, journal=(folder / JOURNAL_FILE).is_file())
    channel.listen(lambda record: reporter.event(
        **({"claim": record["claim"]} if "claim" in record else {"record": record})))
    signal.signal(signal.SIGALRM, stop_cell)
    for cell in job["cells"]:
        reporter.event(cell=cell["id"], state="started")
        state, note, outputs = _run_in_time(shell, cell["source"], job["limits"]["cell_seconds"])
        reporter.event(cell=cell["id"], state=state, note=note, outputs=outputs)


def _run_in_time(shell: Any, source: str, seconds: float) -> tuple[str, str, list[Any]]:
    stopped = "stopped", f"stopped after {seconds:g} s"
    try:
        state, note = _run_to_its_end(shell, source, seconds, stopped)
    except CellStopped:  # time was up while an error was being dealt with
        state, note = stopped
    return state, note, shell.take_outputs()


def _run_to_its_end(shell: Any, source: str, seconds: float,
                    stopped: tuple[str, str]) -> tuple[str, str]:
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        return shell.run(source)
    except CellStopped:
        return stopped
    except BaseException as error:  # whatever a cell does, the next one is run
        return "error", type(error).__name__
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)


def loaded_modules() -> list[str]:
    """Name the modules that are loaded, but for those beside the notebook."""
    own = (os.getcwd() + os.sep, "/tmp" + os.sep)
    return sorted(name for name, module in list(sys.modules.items())
                  if not str(getattr(module, "__file__", None) or "").startswith(own)
                  and getattr(module, "__spec__", None) is not None)


def work(job: dict[str, Any], reporter: Reporter, shell: "CellShell | None" = None) -> None:
    """Do a job in this process, which is then of no further use, and leave."""
    # Loaded before her files lie there: matplotlib reads a style that stands beside a notebook.
    from coldbench.grading.shell import CellShell

    shell = shell or CellShell()
    # Last on the path: a file beside the notebook stands in for no library, loaded or not.
    sys.path[:] = [*(entry for entry in sys.path if entry), os.getcwd()]
    try:
        lay_out(job.pop("files"))
        set_limits(job["limits"])
        refuse_calls()
        run_cells(job, reporter, shell)
        if job.get("trial"):  # only ever the instructor's own set-up cells
            reporter.event(modules=loaded_modules())
        reporter.event(done=True)
    except Exception as error:
        reporter.event(failed=f"{type(error).__name__}: {error}"[:500])
    os._exit(0)


def main() -> None:
    """Read the job, run it, leave."""
    job = json.loads(sys.stdin.buffer.read())
    work(job, Reporter(take_channel(1)))


if __name__ == "__main__":
    main()
