"""Running a submission: starts the learner's process, listens to it, stops it in time."""

import base64
import contextlib
import json
import os
import selectors
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from threading import Event
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.cgroup import ControlGroup
from coldbench.grading.limits import Limits
from coldbench.grading.outputs import clean_outputs, clean_text
from coldbench.grading.sandbox import LIMITS_ONLY, Place, place_for
from coldbench.grading.warm import ParentLost, WarmParent
from coldbench.worksheet.records import read_record

MOST_RECORDS = 2_000
MOST_EVENTS = 20_000
SECONDS_TO_HALT = 0.5
PIPE_BYTES = 1 << 20


@dataclass
class Run:
    """What a learner's process reported, checked and made plain.

    records [question → record, the last one counts]; claims [ids the notebook named];
    states [cell id → "ok", "error: …", "stopped: …", "not run: …"]; outputs [cell id → list];
    notices [sentences]; sizes [question → characters its record may hold, if not the usual].
    """

    records: dict[str, dict[str, Any]] = field(default_factory=dict)
    claims: list[str] = field(default_factory=list)
    states: dict[str, str] = field(default_factory=dict)
    outputs: dict[str, list[Any]] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)
    sizes: Mapping[str, int] = field(default_factory=dict)


class Halted(InputError):
    """A run was broken off because grading stops."""


class Unfit(InputError):
    """A run could not begin, for a reason that is not the submission's."""


def run_cells(cells: list[dict[str, str]], learner: str, files: list[tuple[str, bytes]],
              level: str, limits: Limits, hide: Sequence[Path] = (),
              sizes: Mapping[str, int] = {},  # noqa: B006
              parent: WarmParent | None = None, halt: Event | None = None,
              cold_instead: bool = True) -> Run:
    """Run a learner's cells apart.

    cells [id, source]; learner [whose case it is]; files [(relative name, bytes) that lie
    beside the notebook]; level [of the sandbox]; hide [folders the run must not see even where
    they lie among the system's]; sizes [question → characters, where an answer may be larger
    than usual]; parent [a pre-warmed one; without it, or when it fails, Python is started anew];
    halt [once it is set, the run is broken off]; cold_instead [False: raise what keeps the
    parent from working]. Never raises for what the cells do; raises Halted when broken off.
    """
    job = {"learner": learner, "limits": asdict(limits), "cells": cells,
           "files": [(name, base64.b64encode(data).decode()) for name, data in files]}
    data = json.dumps(job).encode()
    for _ in range(2 if parent else 0):
        run = _new_run(cells, sizes)
        try:
            with parent.run(data) as events:
                begun = _listen(events, run, limits, halt)
            if begun or not cells:
                return run
        except (ParentLost, Unfit):
            parent.close()
            if not cold_instead:
                raise
    run = _new_run(cells, sizes)
    with _work_folder(level) as work:
        _converse(place_for(level, work, limits, hide), work, data, run, limits, halt)
    return run


def _new_run(cells: list[dict[str, str]], sizes: Mapping[str, int]) -> Run:
    return Run(states={cell["id"]: "not run: an earlier cell ended the run" for cell in cells},
               sizes=sizes)


@contextlib.contextmanager
def _work_folder(level: str) -> Iterator[Path | None]:
    """A folder for the run where there is no sandbox; a sandbox keeps its files to itself."""
    if level != LIMITS_ONLY:
        yield None
        return
    work = Path(tempfile.mkdtemp(prefix="coldbench-run-"))
    try:
        (work / "home").mkdir()
        (work / "lab").mkdir()
        yield work
    finally:
        _remove(work)


def _remove(work: Path) -> None:
    """Remove a folder, however deep and whatever its files' rights."""
    with contextlib.suppress(RecursionError):  # folders a thousand deep
        shutil.rmtree(work, ignore_errors=True)
    if work.exists():
        for command in (["chmod", "-R", "u+rwx"], ["rm", "-rf"]):
            subprocess.run([*command, "--", str(work)], check=False, capture_output=True)


def _converse(place: Place, work: Path | None, job: bytes, run: Run, limits: Limits,
              halt: Event | None) -> None:
    group = ControlGroup(limits.memory_MB, int(limits.processes))
    process = subprocess.Popen(
        [*group.command(first_to_end=True), *place.command], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=place.environment or {},
        cwd=work / "lab" if work else "/", start_new_session=True)
    try:
        try:
            process.stdin.write(job)
            process.stdin.close()
        except BrokenPipeError:
            run.notices.append("The learner's process did not start.")
        _listen(process.stdout.fileno(), run, limits, halt)
    finally:
        _end(process)
        group.close()
        if work is not None:
            _end_strays(work)


def _end(process: subprocess.Popen) -> None:
    """Kill the whole group; with bubblewrap its process namespace dies with it."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass
    process.wait()
    process.stdout.close()


def _end_strays(work: Path) -> None:
    """End what left the group where no sandbox ends it: it has the run's home or folder."""
    home = f"HOME={work}/home\0".encode()
    for _ in range(50):  # one that forks is caught in a later turn
        strays = [place for place in Path("/proc").glob("[0-9]*") if _is_of(place, home, work)]
        for place in strays:
            with contextlib.suppress(OSError):
                os.kill(int(place.name), signal.SIGKILL)
        if not strays:
            return
        time.sleep(0.01)


def _is_of(place: Path, home: bytes, work: Path) -> bool:
    """Say whether a process [its folder in /proc], not yet ended, belongs to a run's folder."""
    try:
        return (home in (place / "environ").read_bytes()
                or Path(os.readlink(place / "cwd")).is_relative_to(work))
    except OSError:  # another user's, or ended meanwhile
        return False


def _listen(descriptor: int, run: Run, limits: Limits, halt: Event | None) -> bool:
    """Take a run's events until it ends or must be stopped; returns whether a cell was begun."""
    os.set_blocking(descriptor, False)
    _widen(descriptor)
    deadline = time.monotonic() + limits.notebook_seconds
    cell = _Deadline(limits)
    pending, received, events = bytearray(), 0, 0
    with selectors.DefaultSelector() as ready:
        ready.register(descriptor, selectors.EVENT_READ)
        while True:
            left = min(deadline, cell.moment) - time.monotonic()
            if left <= 0:
                _stopped(run, cell.name, "its time was up")
                return cell.begun
            if halt is not None and halt.is_set():
                raise Halted("grading was broken off")
            if not ready.select(min(left, SECONDS_TO_HALT)):
                continue
            data = os.read(descriptor, PIPE_BYTES)
            if not data:
                _ended(run, cell.name)
                return cell.begun
            received += len(data)
            if received > limits.output_MB * 1e6:
                _stopped(run, cell.name, "it wrote too much")
                return cell.begun
            pending += data
            if b"\n" not in data:
                continue
            *lines, rest = pending.split(b"\n")
            pending = bytearray(rest)
            for line in lines[: MOST_EVENTS - events]:
                if _take_event(line, run, cell, limits):
                    return cell.begun
            events += len(lines)
            if events > MOST_EVENTS:
                _stopped(run, cell.name, "it sent too many lines")
                return cell.begun


def _widen(descriptor: int) -> None:
    """Let a pipe hold more, so that pictures and floods pass in fewer turns; Linux only."""
    with contextlib.suppress(ImportError, AttributeError, OSError):
        import fcntl

        fcntl.fcntl(descriptor, fcntl.F_SETPIPE_SZ, PIPE_BYTES)


class _Deadline:
    """The moment by which the running cell must have reported."""

    def __init__(self, limits: Limits):
        self.name, self.begun, self._limits = "", False, limits
        # Starting Python and its libraries is not the learner's time.
        self.moment = time.monotonic() + 60.0

    def start(self, name: str) -> None:
        self.name, self.begun = name, True
        self.moment = time.monotonic() + self._limits.cell_seconds + 3.0


def _take_event(line: bytes, run: Run, cell: _Deadline, limits: Limits) -> bool:
    """Take one event; returns True when the run is done."""
    try:
        event = json.loads(line)
        if not isinstance(event, dict):
            raise ValueError
        return _take_known_event(event, run, cell, limits)
    except Unfit:
        raise
    except (ValueError, TypeError, RecursionError):
        _notice(run, "The run sent a line that is not an event; it was left out.")
        return False


def _take_known_event(event: dict[str, Any], run: Run, cell: _Deadline, limits: Limits) -> bool:
    if "record" in event:
        _take_record(event["record"], run)
    elif isinstance(event.get("claim"), str):
        run.claims = [*run.claims[:9], clean_text(event["claim"], 64)]
    elif "unfit" in event and not cell.begun:  # said by our own code, before the first cell
        raise Unfit(f"the run could not begin: {clean_text(event['unfit'], 300)}")
    elif "failed" in event:
        _notice(run, f"The run could not go on: {clean_text(event['failed'], 300)}.")
    elif event.get("cell") in run.states:
        _take_cell(event, run, cell, limits)
    elif event.get("done") is True:
        if any(state.startswith("not run") for state in run.states.values()):
            _notice(run, "The run said it was done before its last cell; what was not run "
                         "counts as not answered.")
        return True
    return "failed" in event


def _take_cell(event: dict[str, Any], run: Run, cell: _Deadline, limits: Limits) -> None:
    name, state = event["cell"], event.get("state")
    if state == "started":
        cell.start(name)
        return
    note = clean_text(event.get("note", ""), 300)
    run.states[name] = {"ok": "ok", "error": f"error: {note}", "stopped": f"stopped: {note}"}.get(
        state if isinstance(state, str) else "", "error: unknown end")
    run.outputs[name] = clean_outputs(event.get("outputs"), int(limits.cell_output_kB * 1000))
    cell.name = ""


def _take_record(content: Any, run: Run) -> None:
    try:
        record = read_record(json.dumps(content), run.sizes)
    except InputError as error:
        _notice(run, f"A malformed answer was left out: {error}.")
        return
    if record["question"] in run.records or len(run.records) < MOST_RECORDS:
        run.records[record["question"]] = record


def _notice(run: Run, sentence: str) -> None:
    if sentence not in run.notices and len(run.notices) < 20:
        run.notices.append(sentence)


def _stopped(run: Run, cell: str, why: str) -> None:
    if cell in run.states:
        run.states[cell] = f"stopped: {why}"
    run.notices.append(f"The run was stopped at cell {cell or '(start)'!r}: {why}. "
                       "Answers recorded before it count.")


def _ended(run: Run, cell: str) -> None:
    if cell in run.states:
        run.states[cell] = "stopped: the Python process ended here"
    run.notices.append(f"Python ended in the middle of the run, at cell {cell or '(start)'!r}. "
                       "Answers recorded before it count.")
