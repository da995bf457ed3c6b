"""What is kept of one graded submission: marks with reasons, repairs, the run's story.

The gradebook holds the marks; a record holds why. Feedback and reports are made from both.
Records lie in `autograde/records/<lab>/<learner>.json`.
"""

import errno
import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.marks import Mark


@dataclass(frozen=True)
class CellResult:
    """The marks of one check cell, or the state of one written cell.

    grade_id; title [the question as the learner knows it]; kind ["checked" or "written"];
    points [maximum]; score [None while a hand is needed]; marks; trouble [why a check could
    not be computed, else ""].
    """

    grade_id: str
    title: str
    kind: str
    points: float
    score: float | None
    marks: tuple[Mark, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Record:
    """One graded submission.

    key [hash of all that decides the marks]; repairs [sentences: what was mended]; notices
    [sentences the instructor should know: claimed another's id, malformed records, …]; run
    [how each learner cell ended: {grade_id: "ok" | "error: …" | "stopped: …"}]; sandbox
    [level]; submitted_at [ISO time or ""]; seconds [wall time of run and marking].
    """

    lab: str
    learner: str
    key: str
    cells: tuple[CellResult, ...]
    repairs: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    run: dict[str, str] = field(default_factory=dict)
    sandbox: str = ""
    submitted_at: str = ""
    late_seconds: float = 0.0
    seconds: float = 0.0

    @property
    def score(self) -> float:
        """Points earned so far, written answers not counted before they are marked."""
        return sum(cell.score or 0.0 for cell in self.cells)

    @property
    def points(self) -> float:
        """Points that could be earned."""
        return sum(cell.points for cell in self.cells)


def to_json(record: Record) -> str:
    """Write a record as JSON text."""
    return json.dumps(asdict(record), ensure_ascii=False)


def from_json(text: str) -> Record:
    """Read a record from JSON text; raises ValueError when it is not one."""
    try:
        data: dict[str, Any] = json.loads(text)
        cells = tuple(
            CellResult(**{**cell, "marks": tuple(Mark(**mark) for mark in cell["marks"])})
            for cell in data.pop("cells"))
        for name in ("repairs", "notices"):
            data[name] = tuple(data.get(name, ()))
        record = Record(cells=cells, **data)
    except (AttributeError, KeyError, TypeError, RecursionError) as error:
        raise ValueError(f"this is not a record: {error}") from None
    if not all(_is_sound(cell) for cell in record.cells):
        raise ValueError("this is not a record: a score is not a number")
    return record


def _is_sound(cell: CellResult) -> bool:
    return (isinstance(cell.points, (int, float)) and isinstance(cell.grade_id, str)
            and isinstance(cell.score, (int, float, type(None)))
            and all(isinstance(mark.share, (int, float)) for mark in cell.marks))


def save(record: Record, folder: Path) -> Path:
    """Write a record in one step, so that a killed grader leaves the old one or the new one."""
    path = folder / record.lab / f"{record.learner}.json"
    write_atomically(path, to_json(record))
    return path


def write_atomically(path: Path, content: str | bytes) -> None:
    """Write a file so that a reader sees all of it or the one before [content: text or bytes].

    Raises InputError when it cannot be written; the one before is then still there.
    """
    with plain_disk_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        _replace(path, content.encode() if isinstance(content, str) else content)


@contextmanager
def plain_disk_errors(path: Path) -> Iterator[None]:
    """Turn a disk's error, such as that it is full, into an InputError that says what and why."""
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        raise InputError(
            f"the disk is full: {path} could not be written; what was finished is kept; make "
            "room, then run the command again" if full else
            f"{path} cannot be written: {error.strerror or error}; what was finished is kept"
        ) from None


def _replace(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def load_all(folder: Path, lab: str) -> list[Record]:
    """Read every record of a lab, sorted by learner; unreadable files are passed over."""
    records = []
    for path in sorted((folder / lab).glob("*.json")):
        try:
            records.append(from_json(path.read_text(encoding="utf-8")))
        except (OSError, ValueError):
            continue
    return records
