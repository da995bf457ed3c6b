"""The learner's process: runs her cells and reports what happened. Never trusted.

Started as `python -P -m coldbench.grading.student` inside the sandbox. A job comes on standard
input, events leave on standard output, one JSON line each:
    {"cell": id, "state": "ok" | "error" | "stopped", "note": …, "outputs": […]}
    {"record": {…}}     an answer
    {"claim": "ml-07"}  the id the notebook says it belongs to
Whatever the learner's code does to this process can change these events and nothing else.
"""

import base64
import json
import os
import signal
import sys
from pathlib import Path
from typing import Any, BinaryIO


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


def take_channel() -> BinaryIO:
    """Keep standard output for events; whatever else is written there goes nowhere."""
    channel = os.fdopen(os.dup(1), "wb")
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
        resource.RLIMIT_CORE: 0,
    }
    for kind, value in wanted.items():
        try:
            resource.setrlimit(kind, (value, value))
        except (ValueError, OSError):  # a lower hard limit is already in force
            continue


def stop_cell(signum: int, frame: Any) -> None:
    """Stop the running cell: its time is up."""
    raise CellStopped


def run_cells(job: dict[str, Any], reporter: Reporter) -> None:
    """Run a job's cells in order, each within its time, reporting after each."""
    from coldbench.grading.shell import CellShell
    from coldbench.worksheet import channel
    from coldbench.worksheet.journal import JOURNAL_FILE

    shell = CellShell(int(job["limits"]["cell_output_kB"] * 1000))
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
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        state, note = shell.run(source)
    except CellStopped:
        state, note = "stopped", f"stopped after {seconds:g} s"
    except BaseException as error:  # whatever a cell does, the next one is run
        state, note = "error", type(error).__name__
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return state, note, shell.take_outputs()


def main() -> None:
    """Read the job, run it, leave."""
    job = json.loads(sys.stdin.buffer.read())
    reporter = Reporter(take_channel())
    sys.path.append(os.getcwd())
    try:
        lay_out(job.pop("files"))
        set_limits(job["limits"])
        run_cells(job, reporter)
        reporter.event(done=True)
    except Exception as error:
        reporter.event(failed=f"{type(error).__name__}: {error}"[:500])
    os._exit(0)


if __name__ == "__main__":
    main()
