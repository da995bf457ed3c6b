"""The measurement journal beside a notebook: every reading is written down as it is made.

The file `journal.jsonl` lies in the lab's folder, one for each lab, and is only ever added to:
after a restart of the kernel the next measurement follows the last one. `entries.py` tells what
a line holds and why a change shows.

When a disk takes no more or may not be written, the measurements are kept in the notebook's
memory, `trouble` says so, and the next measurement tries to write them all.

When a submission is graded, the file that was handed in counts, and measurements made again by
the cells are not added to it. Only where none was handed in do the repeated ones count.
"""

import contextlib
import os
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from coldbench.worksheet import channel, desk
from coldbench.worksheet.entries import (
    LARGEST_BYTES, LONGEST_LINE, MOST_ENTRIES, Entry, Findings, Owner, check_lines, entry_line,
    head_line, head_owner, make_entry, parse_line,
)
from coldbench.worksheet.journal_words import journal_html, journal_text

JOURNAL_FILE = "journal.jsonl"
_FULL = (f"The journal is full ({MOST_ENTRIES:,} measurements or {LARGEST_BYTES // 1000} kB); "
         "this measurement is not in it. Measure only what you need.")


class Journal:
    """The journal of one learner and lab.

    folder [of the lab's files]; owner; closed [True: nothing is added].
    """

    def __init__(self, folder: Path, owner: Owner, closed: bool = False):
        self.path, self.owner, self.closed = Path(folder) / JOURNAL_FILE, owner, closed
        self.trouble = ""
        self.last_number = 0
        self._waiting: list[Entry] = []

    def add(self, instrument: str, arguments: Mapping[str, Any], reading: Any, unit: str = "", *,
            settings: Mapping[str, Any] | None = None, uncertainty: float | None = None,
            minutes: float = 0.0, note: str = "") -> Entry:
        """Write one measurement down and return its entry.

        reading [number, word, or None: the instrument refused]; uncertainty [± in the same
        unit]; minutes [on a real bench]. What went wrong with the file stands in `trouble`
        afterwards, a sentence or "", the number it got in `last_number` (0: not written); nothing
        is raised for it. Raises InputError when the
        measurement is not plain data.
        """
        entry = make_entry(1, _now(), instrument, arguments, settings or {}, reading, unit,
                           uncertainty, minutes, note)
        self.trouble, self.last_number = "", 0
        if not self.closed:
            self._waiting.append(entry)
            self._write_down()
        return entry

    def _write_down(self) -> None:
        try:
            with _locked(self.path) as stream:
                data = stream.read(LARGEST_BYTES + 1)
                lines = self._following(data)
                text = "".join(f"{line}\n" for line in lines).encode("utf-8", "replace")
                if self._is_full(data, text):
                    self._waiting.pop()
                    self.trouble = _FULL
                    return
                _append(stream, text if data.endswith(b"\n") or not data else b"\n" + text)
                self.last_number = parse_line(lines[-1])["n"]
        except OSError as error:
            count = len(self._waiting)
            if count > MOST_ENTRIES:
                self._waiting.pop()
            self.trouble = (
                f"The journal {self.path.name} cannot be written "
                f"({error.strerror or type(error).__name__}); {count} measurements are kept in "
                "this notebook until it can be. Do not restart the kernel; make room or allow "
                f"writing in {self.path.parent}, then measure once more.")
            return
        self._waiting.clear()

    def _is_full(self, data: bytes, text: bytes) -> bool:
        # Of the bytes, a part is kept free: a cut line would be lost.
        return (len(data) + len(text) + 1 > LARGEST_BYTES
                or data.count(b'"instrument"') + len(self._waiting) > MOST_ENTRIES)

    def _following(self, data: bytes) -> list[str]:
        """The waiting measurements as lines that follow on from a file's content."""
        said = [line for line in _text_lines(data) if line.strip()]
        number = sum('"instrument"' in line for line in said)
        previous = self._end_of_chain(said)
        lines = []
        if previous is None and self._waiting:
            line, previous = head_line(self.owner, self._waiting[0].time)
            lines.append(line)
        for entry in self._waiting:
            number += 1
            line, previous = entry_line(self.owner, _numbered(entry, number), previous)
            lines.append(line)
        return lines

    def _end_of_chain(self, lines: list[str]) -> str | None:
        """Hash of the last line, when it ends a whole chain of this owner's."""
        heads = [line for line in lines if '"journal":' in line]
        table = parse_line(heads[-1]) if heads else None
        owner = head_owner(table) if table else None
        if owner is None or owner.words != self.owner.words:
            return None
        last = parse_line(lines[-1])
        whole = last is not None and not check_lines([heads[-1], lines[-1]], self.owner).damaged
        return last["hash"] if whole else None

    def lines(self) -> list[str]:
        """Every line of the file, and behind them the measurements not yet written to it."""
        data = self._read()
        return [*_text_lines(data), *self._following(data)]

    def _read(self) -> bytes:
        try:
            with open(self.path, "rb") as stream:
                return stream.read(LARGEST_BYTES)
        except OSError:
            return b""

    @property
    def findings(self) -> Findings:
        """What the journal holds now, and what of it cannot be believed."""
        return check_lines(self.lines(), self.owner)

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The measurements that count."""
        return self.findings.entries

    def __repr__(self) -> str:
        return journal_text(self.findings)

    def _repr_html_(self) -> str:
        return journal_html(self.findings)


def open_journal(folder: Path, owner: Owner) -> Journal:
    """The journal of a lab's folder; closed while marking, and when one was handed in."""
    closed = desk.current_desk() is not None or bool(channel.assigned().get("journal"))
    return Journal(folder, owner, closed)


def journal_value(journal: Journal) -> dict[str, Any] | None:
    """The journal as an answer's plain data; None while it is empty.

    remade [True: no file was handed in, the measurements were made again while grading].
    """
    lines = journal.lines()
    if not lines:
        return None
    remade = bool(channel.assigned()) and not journal.closed
    return {"journal": lines, "remade": remade}


def _text_lines(data: bytes) -> list[str]:
    """Lines of a file, none of them endless; its end need not be whole."""
    lines = data.decode("utf-8", "replace").replace("\r\n", "\n").split("\n")
    return [line[:LONGEST_LINE + 1] for line in (lines if lines[-1].strip() else lines[:-1])]


def _numbered(entry: Entry, number: int) -> Entry:
    return Entry(**{**entry.as_dict(), "n": number})


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[IO[bytes]]:
    """Open the journal for reading and adding, alone where the system can lock files."""
    with open(path, "a+b") as stream:
        with contextlib.suppress(ImportError, OSError):  # no locks here; one notebook is usual
            import fcntl

            fcntl.flock(stream, fcntl.LOCK_EX)
        stream.seek(0)
        yield stream


def _append(stream: IO[bytes], text: bytes) -> None:
    start = stream.seek(0, os.SEEK_END)
    try:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    except OSError:
        with contextlib.suppress(OSError):  # half a line would spoil the next one
            stream.truncate(start)
        raise
