"""One grader at a time at a desk: a lock file that says who, where and since when.

The system itself frees the lock when its program ends, however it ends. What a killed program
leaves is a file with its name in it, which the next one takes over and says so.
"""

import contextlib
import getpass
import json
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.record import plain_disk_errors

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

_held: set[str] = set()
_guard = threading.Lock()


@contextlib.contextmanager
def desk_lock(desk: Path, work: str) -> Iterator[list[str]]:
    """Hold the lock for one kind of work at a desk; gives sentences to tell the user.

    desk [folder]; work ["grading", "collecting", "copying"]. Raises InputError when somebody
    else holds it: who, where, since when, and what to do.
    """
    path = desk / f"{work}.lock"
    with plain_disk_errors(desk):
        desk.mkdir(parents=True, exist_ok=True)
    key = str(path.resolve())
    with _guard:
        if key in _held:
            raise InputError(f"this program is {work} at {desk} already; wait until it is done")
        _held.add(key)
    try:
        with _locked(path, work) as notes:
            yield notes
    finally:
        with _guard:
            _held.discard(key)


@contextlib.contextmanager
def _locked(path: Path, work: str) -> Iterator[list[str]]:
    stream = _open_locked(path, work)
    try:
        notes = _take_over(path, _read(stream), work)
        with plain_disk_errors(path):
            os.ftruncate(stream, 0)
            os.pwrite(stream, json.dumps(_myself()).encode(), 0)
        try:
            yield notes
        finally:
            with contextlib.suppress(OSError):
                path.unlink()  # while it is held: whoever opened it meanwhile sees that
    finally:
        os.close(stream)


def _open_locked(path: Path, work: str) -> int:
    """Open the lock file and lock it; again if it was removed in between."""
    while True:
        with plain_disk_errors(path):
            stream = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            if fcntl is not None:
                fcntl.lockf(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = _read(stream)
            os.close(stream)
            raise InputError(_busy(holder, path, work)) from None
        with contextlib.suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(stream), os.stat(path)):
                return stream
        os.close(stream)


def _take_over(path: Path, left: dict[str, Any], work: str) -> list[str]:
    """Say what an ended program left; refuses when it may still run elsewhere."""
    if not left:
        return []
    if fcntl is not None and left.get("host") == socket.gethostname():
        return [f"the {work} that {_who(left)} had begun {_age(left)} was cut short; "
                "what it finished is kept, the rest is done now"]
    raise InputError(
        f"{_who(left)} began {work} here {_age(left)}, on another machine or where its end "
        f"cannot be seen; wait until it is done, or, if it is certain that it no longer runs, "
        f"delete {path}")


def _busy(holder: dict[str, Any], path: Path, work: str) -> str:
    who = f"{_who(holder)}, since {_age(holder)}" if holder else "another program"
    return f"{who}, is {work} at {path.parent} now; wait until that is done"


def _who(holder: dict[str, Any]) -> str:
    return (f"{str(holder.get('owner', 'somebody'))[:60]} on {str(holder.get('host', '?'))[:60]} "
            f"(process {holder.get('pid', '?')})")


def _age(holder: dict[str, Any]) -> str:
    try:
        seconds = max(0.0, time.time() - float(holder["since"]))
    except (KeyError, TypeError, ValueError):
        return "at an unknown time"
    for unit, length in (("days", 86_400), ("hours", 3_600), ("minutes", 60)):
        if seconds >= 2 * length:
            return f"{int(seconds // length)} {unit} ago"
    return f"{int(seconds)} seconds ago"


def _myself() -> dict[str, Any]:
    try:
        owner = getpass.getuser()
    except (OSError, KeyError, ImportError):
        owner = "somebody"
    return {"owner": owner, "host": socket.gethostname(), "pid": os.getpid(),
            "since": time.time(), "python": sys.executable}


def _read(stream: int) -> dict[str, Any]:
    """What the lock file says, read through the descriptor that holds the lock."""
    try:
        found = json.loads(os.pread(stream, 4096, 0) or b"{}")
    except (OSError, ValueError):
        return {"owner": "somebody"}
    return found if isinstance(found, dict) else {"owner": "somebody"}


def holder_of(desk: Path, work: str) -> str:
    """Say who holds a lock now; empty when nobody does."""
    path = desk / f"{work}.lock"
    if not path.is_file() or str(path.resolve()) in _held:
        return ""
    stream = os.open(path, os.O_RDWR)
    try:
        if fcntl is not None:
            fcntl.lockf(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return ""
    except OSError:
        holder = _read(stream)
        return f"{_who(holder)}, since {_age(holder)}" if holder else "another program"
    finally:
        os.close(stream)
