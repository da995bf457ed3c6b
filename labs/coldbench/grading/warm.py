"""The grader's side of a pre-warmed parent: starts it, sends it runs, renews it in time."""

import base64
import contextlib
import json
import os
import select
import socket
import subprocess
import threading
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.cgroup import ControlGroup
from coldbench.grading.limits import Limits
from coldbench.grading.sandbox import place_for_parent

RUNS_OF_A_PARENT = 400
OWN_MEMORY_MB, OWN_PROCESSES = 1500, 8
_modules_of: dict[str, list[str]] = {}
_one_trial = threading.Lock()


class ParentLost(InputError):
    """The pre-warmed parent cannot be used, for a reason that is not the submission's."""


class WarmParent:
    """A pre-warmed parent for one lab.

    key [names the lab as it is now]; cells [set-up cells of the lab, which are tried once to see
    what they load]; files [(relative name, bytes) of the lab]; hide [folders kept out of sight].
    It is started when first asked, and anew after `RUNS_OF_A_PARENT` runs or when it was lost.
    """

    def __init__(self, key: str, cells: list[dict[str, str]], files: list[tuple[str, bytes]],
                 limits: Limits, hide: Sequence[Path] = ()):
        self._key, self._cells, self._files = key, cells, files
        self._limits, self._hide = limits, hide
        self._process: subprocess.Popen | None = None
        self._group: ControlGroup | None = None
        self._runs = 0

    def start(self) -> None:
        """Start ahead of the first run; trouble shows with that run."""
        if self._process is None:
            with contextlib.suppress(ParentLost):
                self._start()

    @contextlib.contextmanager
    def run(self, job: bytes) -> Iterator[int]:
        """Do a job in a fresh child: gives the descriptor of its events, ends the child after.

        Raises ParentLost when no child could be begun.
        """
        if self._process is None or self._runs >= RUNS_OF_A_PARENT:
            self.close()
            self._start()
        events = self._begin(job)
        try:
            yield events
        finally:
            os.close(events)
            self._end()

    def _begin(self, job: bytes) -> int:
        reading, writing = os.pipe2(os.O_CLOEXEC)
        memory = os.memfd_create("job")
        try:
            with os.fdopen(os.dup(memory), "wb") as stream:
                stream.write(job)
            os.lseek(memory, 0, os.SEEK_SET)
            order = json.dumps({"run": True, "limits": asdict(self._limits)}).encode()
            socket.send_fds(self._control, [order], [memory, writing])
        except OSError as error:
            os.close(reading)
            self.close()
            raise ParentLost(f"the pre-warmed parent ended ({error.strerror})") from None
        finally:
            os.close(memory)
            os.close(writing)
        self._runs += 1
        return reading

    def _end(self) -> None:
        """End the child and wait until nothing of it is left."""
        try:
            self._control.send(b'{"stop": true}')
            while not self._answer(30.0).get("ended"):
                pass
        except (OSError, ParentLost):
            self.close()  # the next run begins with a new parent

    def _start(self) -> None:
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        place = place_for_parent(self._limits, self._hide)
        self._group = ControlGroup(self._limits.memory_MB + OWN_MEMORY_MB,
                                   int(self._limits.processes) + OWN_PROCESSES)
        with theirs:
            self._process = subprocess.Popen(
                [*self._group.command(), *place.command], stdin=theirs,
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=place.environment,
                cwd="/", start_new_session=True)
        self._control = ours
        with _one_trial:  # of several workers one tries, the others take what it found
            if self._key not in _modules_of:
                _modules_of[self._key] = self._try_lab()
        self._runs = 0
        self._send_names(_modules_of[self._key])
        if self._answer(120.0).get("threads") != 1:
            self.close()
            raise ParentLost("the pre-warmed parent has more than one thread")

    def _send_names(self, names: list[str]) -> None:
        try:
            self._control.send(json.dumps({"import": names}).encode())
        except OSError as error:
            self.close()
            raise ParentLost(f"the pre-warmed parent did not start ({error.strerror})") from None

    def _try_lab(self) -> list[str]:
        """Run the lab's own set-up cells in a child and see which modules they load."""
        job = {"learner": "practice", "limits": asdict(self._limits), "cells": self._cells,
               "files": [(name, base64.b64encode(data).decode()) for name, data in self._files],
               "trial": True}
        events = self._begin(json.dumps(job).encode())
        try:
            with os.fdopen(events, "rb", closefd=False) as stream:
                found = [json.loads(line) for line in stream]
        finally:
            os.close(events)
            self._end()
        why = next((event[key] for event in found for key in ("unfit", "failed") if key in event),
                   "it ended")
        names = next((event["modules"] for event in found if "modules" in event), None)
        if names is None:
            self.close()
            raise ParentLost(f"the pre-warmed parent could not try the lab ({why})")
        return names

    def _answer(self, seconds: float) -> dict[str, Any]:
        ready, _, _ = select.select([self._control], [], [], seconds)
        data = self._control.recv(1 << 16) if ready else b""
        if not data:
            raise ParentLost("the pre-warmed parent does not answer")
        return json.loads(data)

    def close(self) -> None:
        """End the parent; its process namespace and all in it end too."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._control.close()
            self._process = None
        if self._group is not None:
            self._group.close()
            self._group = None
