"""Labs, submissions and results as bytes, so that another machine can grade.

A worker gets one lab (with its own keys and no other's) and one submission; it returns JSON.
It never sees the gradebook, the class or the course. The same parcel gives the same result, so
a parcel that is graded twice does no harm.
"""

import base64
import json
import tempfile
import threading
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any

from nbformat.v4 import new_notebook

from coldbench import __version__
from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.job import Graded, Job
from coldbench.grading.lab import Lab, open_lab
from coldbench.grading.lab_worker import LabWorker
from coldbench.grading.limits import Limits
from coldbench.grading.record import from_json, to_json
from coldbench.grading.sandbox import BUBBLEWRAP, missing_for_bubblewrap


def pack_lab(lab: Lab, level: str, limits: Limits, cold: bool = False) -> bytes:
    """Pack a lab's source and how to grade it."""
    files = {path.relative_to(lab.folder).as_posix(): _text(path.read_bytes())
             for path in sorted(lab.folder.rglob("*"))
             if path.is_file() and path.suffix != ".pyc" and not path.is_symlink()}
    return json.dumps({
        "version": __version__, "name": lab.name, "course": lab.course_code, "level": level,
        "limits": asdict(limits), "cold": cold, "fingerprint": lab.fingerprint, "files": files,
    }).encode()


def pack_job(job: Job) -> bytes:
    """Pack a submission."""
    content = {**asdict(job), "data": None if job.data is None else _text(job.data),
               "files": [(name, _text(data)) for name, data in job.files]}
    return json.dumps(content).encode()


def unpack_job(parcel: bytes) -> Job:
    """Unpack a submission.

    >>> job = Job("ml-07", b"{}", (("a.txt", b"x"),), notes=("n",))
    >>> unpack_job(pack_job(job)) == job
    True
    """
    content = json.loads(parcel)
    data = content.pop("data")
    files = tuple((name, base64.b64decode(text)) for name, text in content.pop("files"))
    return Job(data=None if data is None else base64.b64decode(data), files=files,
               **{**content, "notes": tuple(content["notes"])})


def pack_graded(graded: Graded) -> str:
    """Write a result as JSON."""
    return json.dumps({"record": to_json(graded.record), "notebook": graded.notebook})


def unpack_graded(text: str) -> Graded:
    """Read a result."""
    from nbformat import from_dict

    content = json.loads(text)
    return Graded(from_dict(content["notebook"]) if content["notebook"] else new_notebook(),
                  from_json(content["record"]))


def grade_parcel(lab_parcel: bytes, job_parcel: bytes) -> str:
    """Grade one submission in whatever process this is; returns the result as JSON.

    Raises InputError when this machine cannot grade as it is asked to.
    """
    return pack_graded(_worker_for(lab_parcel).grade(unpack_job(job_parcel)))


_here = threading.local()  # a worker serves one task at a time, so each thread has its own


def _worker_for(lab_parcel: bytes) -> LabWorker:
    """This thread's worker for a lab, kept until another lab comes."""
    if getattr(_here, "parcel", None) != lab_parcel:
        if hasattr(_here, "worker"):
            _here.worker.close()
        _here.worker, _here.parcel = _new_worker(json.loads(lab_parcel)), lab_parcel
    return _here.worker


def _new_worker(content: dict[str, Any]) -> LabWorker:
    _require_same(content)
    lab = _lay_out(content)
    if lab.fingerprint != content["fingerprint"]:
        raise InputError(f"the lab {lab.name} arrived in another form than it was sent")
    return LabWorker(lab, content["level"], Limits(**content["limits"]), content["cold"])


def _require_same(content: dict[str, Any]) -> None:
    if content["version"] != __version__:
        raise InputError(f"a worker has coldbench {__version__}, but {content['version']} sends "
                         "it work; install the same version on all machines")
    if content["level"] == BUBBLEWRAP and missing_for_bubblewrap():
        raise InputError(f"no sandbox on a worker's machine: {missing_for_bubblewrap()}; add "
                         "--no-sandbox if you accept that learners' code runs there without one")


def _lay_out(content: dict[str, Any]) -> Lab:
    """Write a lab into a course folder of its own, which is removed with this process."""
    root = Path(_folder().name) / content["fingerprint"][:16] / str(threading.get_ident())
    for name, text in content["files"].items():
        path = root / "source" / content["name"] / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(base64.b64decode(text))
    return open_lab(Course(root, code=content["course"]), content["name"])


@cache
def _folder() -> tempfile.TemporaryDirectory:
    return tempfile.TemporaryDirectory(prefix="coldbench-worker-")


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()


__all__ = ["grade_parcel", "pack_graded", "pack_job", "pack_lab", "unpack_graded", "unpack_job"]
