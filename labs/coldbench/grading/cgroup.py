"""Control groups: hard limits on the memory and the processes of a whole run, where allowed.

Limits of one process (`setrlimit`) do not add up over the processes it starts, and the number
of processes is not limited for root. A control group closes both gaps where this user may make
one; the super-user usually may.

Source: the kernel's documents on cgroups, versions 1 and 2.
"""

import contextlib
import os
import signal
import time
import uuid
from pathlib import Path

_ROOT = Path("/sys/fs/cgroup")


class ControlGroup:
    """A group with limits [memory_MB; processes]; `close` ends and removes it."""

    def __init__(self, memory_MB: float, processes: int):
        name = f"coldbench-{os.getpid()}-{uuid.uuid4().hex[:8]}"
        self.folders: list[Path] = []
        self.limits: set[str] = set()
        bytes_ = str(int(memory_MB * 1e6))
        if (_ROOT / "cgroup.controllers").is_file():
            settings = [("memory", "memory.max", bytes_), ("processes", "pids.max", processes)]
            self._make(_ROOT / name, settings)
        else:
            self._make(_ROOT / "memory" / name,
                       [("memory", "memory.limit_in_bytes", bytes_)])
            self._make(_ROOT / "pids" / name, [("processes", "pids.max", processes)])

    def _make(self, folder: Path, settings: list[tuple[str, str, object]]) -> None:
        try:
            folder.mkdir()
        except OSError:
            return
        self.folders.append(folder)
        for limit, file, value in settings:
            with contextlib.suppress(OSError):
                if (folder / file).is_file():
                    (folder / file).write_text(str(value))
                    self.limits.add(limit)

    def command(self, first_to_end: bool = False) -> list[str]:
        """Words before a command so that it, and all it starts, runs in the group.

        first_to_end [where memory runs short, this command is ended before others].
        """
        if not self.folders:
            return []
        joins = "".join(f'echo $$ > "{folder}/cgroup.procs" && ' for folder in self.folders)
        joins += "echo 1000 > /proc/self/oom_score_adj; " if first_to_end else ""
        return ["/bin/sh", "-c", f'{joins}exec "$@"', "sh"]

    def close(self) -> None:
        """End what is still in the group, and remove the group."""
        for folder in self.folders:
            with contextlib.suppress(OSError):
                (folder / "pids.max").write_text("0")  # nothing in it can fork any more
        for folder in self.folders:
            for _ in range(50):
                _end_all(folder)
                try:
                    folder.rmdir()
                except FileNotFoundError:
                    break
                except OSError:  # its last process is still being cleared away
                    time.sleep(0.02)
                else:
                    break
        self.folders = []


def _end_all(folder: Path) -> None:
    with contextlib.suppress(OSError, ValueError):
        for number in (folder / "cgroup.procs").read_text().split():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(number), signal.SIGKILL)
