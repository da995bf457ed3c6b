"""Every attempt that was collected is kept: `autograde/attempts/<lab>/<learner>/<number>/`.

One of them counts and lies in `submitted/`. Which one, the course says: the last, the first, or
the best. Nothing is overwritten: what lay in `submitted/` before is kept as an attempt too.
"""

import hashlib
import json
import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.limits import limits_from
from coldbench.grading.record import plain_disk_errors, write_atomically
from coldbench.grading.sources import read_plain
from coldbench.worksheet.journal import JOURNAL_FILE

POLICIES = ("last", "first", "best")
STAMP = "timestamp.txt"
_SEVERAL = re.compile(r"\d+ attempts were handed in; attempt \d+ counts")
_ABOUT, _NEW, _MARK = ".about.json", ".new", ".mark.json"


@dataclass(frozen=True)
class Attempt:
    """One attempt as it is kept.

    folder; number [in the order of collecting]; digest [of notebook and journal]; moment [of
    handing in, None: unknown]; name [the file it came from]; source [what it came in].
    """

    folder: Path
    number: int
    digest: str
    moment: datetime | None
    name: str
    source: str


def policy_of(course: Course) -> str:
    """Which attempt counts in a course; raises InputError for an unknown word."""
    policy = course.collect.get("attempts", "last")
    if policy not in POLICIES:
        raise InputError(f"course.toml: collect.attempts: {policy!r} is unknown; accepted are "
                         f"{', '.join(POLICIES)}")
    return policy


def digest_of(files: Mapping[str, bytes], lab: str) -> str:
    """Hash of what an attempt is: its notebook and its journal."""
    digest = hashlib.sha256()
    for name in (f"{lab}.ipynb", JOURNAL_FILE):
        data = files.get(name)
        digest.update(b"-" if data is None else f"{len(data)} ".encode() + data)
    return digest.hexdigest()


def attempts_of(course: Course, lab: str, learner: str) -> list[Attempt]:
    """A learner's attempts in the order of handing in.

    By their times if all are known, else as they were collected.
    """
    base = course.attempts / lab / learner
    found = [_read(folder) for folder in base.iterdir()] if base.is_dir() else []
    kept = [attempt for attempt in found if attempt is not None]
    timed = all(attempt.moment for attempt in kept)
    return sorted(kept, key=lambda a: (a.moment if timed else a.number, a.number))


def _read(folder: Path) -> Attempt | None:
    try:
        about = json.loads((folder / _ABOUT).read_text("utf-8"))
        moment = datetime.fromisoformat(about["moment"]) if about["moment"] else None
        return Attempt(folder, int(folder.name), str(about["digest"]), moment,
                       str(about["name"]), str(about["source"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def keep_attempt(course: Course, lab: str, learner: str, files: Mapping[str, bytes],
                 moment: datetime | None, name: str, source: str) -> Attempt:
    """Keep one attempt, whole or not at all [files: lab.ipynb, and journal.jsonl if any]."""
    base = course.attempts / lab / learner
    number = 1 + max((int(f.name) for f in base.glob("[0-9]*") if f.name.isdigit()), default=0)
    target, new = base / f"{number:03d}", base / _NEW
    shutil.rmtree(new, ignore_errors=True)  # left by a call that was killed
    about = {"digest": digest_of(files, lab), "moment": moment.isoformat() if moment else "",
             "name": name, "source": source,
             "collected": datetime.now(UTC).isoformat(timespec="seconds")}
    with plain_disk_errors(target):
        new.mkdir(parents=True)
        for file, data in files.items():
            _write(new / file, data)
        if moment:
            _write(new / STAMP, moment.isoformat().encode())
        _write(new / _ABOUT, json.dumps(about, ensure_ascii=False, indent=1).encode())
        os.rename(new, target)
    kept = _read(target)
    assert kept is not None
    return kept


def _write(path: Path, data: bytes) -> None:
    with open(path, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def on_the_desk(course: Course, lab: str, learner: str) -> dict[str, bytes]:
    """The notebook and journal that lie in `submitted/` now; of a giant one the beginning."""
    folder = course.submitted / learner / lab
    most = int(limits_from(course.limits).notebook_MB * 1e6) + 1
    return {name: read_plain(folder / name, most) for name in (f"{lab}.ipynb", JOURNAL_FILE)
            if is_plain(folder / name)}


def is_plain(path: Path) -> bool:
    """Say whether there is a file of that name, and no link."""
    return path.is_file() and not path.is_symlink()


def counting(course: Course, lab: str, learner: str,
             attempts: list[Attempt] | None = None) -> tuple[int, int]:
    """Which attempt lies in `submitted/`, and of how many [(1, 2) for the first of two].

    (0, n) when it is none of them, such as work put there by hand.
    """
    known = attempts_of(course, lab, learner) if attempts is None else attempts
    if not known:
        return 0, 0
    digest = digest_of(on_the_desk(course, lab, learner), lab)
    places = [place for place, attempt in enumerate(known, 1) if attempt.digest == digest]
    return (places[-1] if places else 0), len(known)


def place_attempt(course: Course, lab: str, learner: str, attempt: Attempt) -> bool:
    """Let an attempt count: put it into `submitted/`; says whether anything changed there."""
    folder = course.submitted / learner / lab
    wanted = {path.name: path.read_bytes() for path in attempt.folder.iterdir()
              if not path.name.startswith(".")}
    changed = False
    for name in (JOURNAL_FILE, STAMP, f"{lab}.ipynb"):
        path = folder / name
        if name not in wanted:
            changed |= path.exists()
            path.unlink(missing_ok=True)
        elif not is_plain(path) or read_plain(path, len(wanted[name]) + 1) != wanted[name]:
            changed = True
            write_atomically(path, wanted[name])
    return changed


def keep_mark(attempt: Attempt, key: str, points: float) -> None:
    """Note what the program gave for an attempt [key: hash of all that decided it]."""
    write_atomically(attempt.folder / _MARK, json.dumps({"key": key, "points": points}))


def mark_of(attempt: Attempt, key: str = "") -> float | None:
    """Points the program gave for an attempt; None unless marked [under this key, if given]."""
    try:
        mark = json.loads((attempt.folder / _MARK).read_text("utf-8"))
        return float(mark["points"]) if key in ("", mark["key"]) else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def tells_attempts(sentence: str) -> bool:
    """Whether a sentence of a record only says which attempt counts.

    >>> tells_attempts("2 attempts were handed in; attempt 2 counts, as the last one.")
    True
    """
    return _SEVERAL.match(sentence) is not None


def account(course: Course, lab: str, learner: str) -> list[str]:
    """Say which of a learner's attempts counts; nothing when there was but one."""
    known = attempts_of(course, lab, learner)
    place, count = counting(course, lab, learner, known)
    if count < 2 or not place:
        return []
    policy = policy_of(course)
    said = f"{count} attempts were handed in; attempt {place} counts, as the {policy} one."
    marks = [mark_of(attempt) for attempt in known]
    if policy == "best" and None not in marks:
        said += (" The program gave "
                 + ", ".join(f"{points:g}" for points in marks if points is not None)
                 + " points for them, in order.")
    return [said]
