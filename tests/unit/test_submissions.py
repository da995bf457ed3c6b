"""Finding what was handed in: times, other names, wrong folders; nothing goes wrong in silence."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.grading.course import Course
from coldbench.grading.limits import limits_from
from coldbench.grading.limits import Limits
from coldbench.grading.submissions import find_submissions, misplaced, read_moment

LAB = "reading-gauges"
DUE = datetime(2026, 12, 4, 17, tzinfo=UTC)
NOTEBOOK = b'{"cells": []}'


@pytest.fixture
def course(tmp_path):
    """A course with one lab and one due date."""
    (tmp_path / "source" / LAB).mkdir(parents=True)
    (tmp_path / "source" / LAB / "lab.toml").write_text(
        'title = "Reading gauges"\norder = 1\nhours = 1\nobjectives = []\ncompetencies = []\n'
        'reveal = "never"\n')
    return Course(tmp_path, due={LAB: DUE})


def hand_in(course, learner="ml-07", lab=LAB, **files):
    """Put files into a learner's folder [files: name, with _ for ., → bytes]."""
    folder = course.submitted / learner / lab
    folder.mkdir(parents=True)
    for name, data in files.items():
        (folder / name.replace("__", " ").replace("_", ".")).write_bytes(data)


def only_job(course):
    """The one submission of the course."""
    jobs, refused = find_submissions(course, LAB, limits_from({}))
    assert len(jobs) == 1 and not refused
    return jobs[0]


# Forms written by nbgrader: its submit.py writes "%Y-%m-%d %H:%M:%S.%f %Z", where %Z is the
# zone named in its settings (nbgrader 0.9, Exchange.timezone and Exchange.timestamp_format).
@pytest.mark.parametrize(("stamp", "late_hours"), [
    ("2026-12-04 18:30:00.000000 UTC", 1.5),
    ("2026-12-04 18:30:00.000000 Europe/Berlin", 0.5),
    ("2026-12-04T18:30:00Z", 1.5),
    ("2026-12-04T18:30:00+01:00", 0.5),
    ("2026-12-04 18:30:00 +0100", 0.5),
    ("2026-12-04 18:30", 1.5),
    ("\ufeff2026-12-04 18:30:00 UTC\r\n", 1.5),
    ("2026-12-04 16:59:59 UTC", 0.0),
])
def test_times_are_read_with_their_zone(course, stamp, late_hours):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK, "timestamp_txt": stamp.encode()})
    job = only_job(course)
    assert job.late_seconds == 3600 * late_hours
    assert job.submitted_at and not job.notes


@pytest.mark.parametrize("stamp", [
    "yesterday evening", "04.12.2026 19:00", "12/04/2026 19:00", "1796410800", "2026-12-04",
    "2026-12-04 19:00 EST", "2026-12-04 19:00 Nowhere/Land", "2026-12-04 19:00 a/../../etc",
    "0001-01-01 00:00:00 +1400",
])
def test_a_time_that_is_not_certain_is_said_not_guessed(course, stamp):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK, "timestamp_txt": stamp.encode()})
    job = only_job(course)
    assert (job.submitted_at, job.late_seconds) == ("", 0.0)
    assert len(job.notes) == 1 and repr(stamp) in job.notes[0] and "on time" in job.notes[0]


def test_no_time_is_no_trouble(course):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK, "timestamp_txt": b"  \n"})
    assert only_job(course).notes == ()


@pytest.mark.parametrize("zone", ["+9999", "+2400", "-00:60", "+\u0661\u0662\u0663\u0664"])
def test_an_offset_that_is_none_stops_nobody(course, zone):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK,
                       "timestamp_txt": f"2026-12-04 16:30:00 {zone}".encode()})
    assert "cannot be read, so the work counts as on time" in only_job(course).notes[0]


def test_a_folder_that_fails_in_any_way_stops_nobody(course, monkeypatch):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK})

    def fail(*ignored):
        raise ValueError("odd")
    monkeypatch.setattr("coldbench.grading.submissions.read_moment", fail)
    jobs, refused = find_submissions(course, LAB, Limits())
    assert jobs == [] and [why for _, why in refused] == [
        "the folder cannot be read (ValueError: odd)"]


@given(st.text(max_size=60))
def test_any_text_is_a_time_in_utc_or_none(stamp):
    moment = read_moment(stamp)
    assert moment is None or moment.utcoffset().total_seconds() == 0


@given(st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2100, 1, 1)))
def test_a_time_written_by_nbgrader_comes_back(moment):
    assert read_moment(moment.strftime("%Y-%m-%d %H:%M:%S.%f UTC")) == moment.replace(tzinfo=UTC)


def test_one_notebook_under_another_name_is_taken_and_said(course):
    hand_in(course, my__work_ipynb=NOTEBOOK)
    job = only_job(course)
    assert job.data == NOTEBOOK
    assert "my work.ipynb" in job.notes[0]


@pytest.mark.parametrize("files", [
    {"a_ipynb": NOTEBOOK, "b_ipynb": NOTEBOOK},
    {f"{LAB}_zip": b"PK"},
])
def test_without_the_notebook_the_files_that_are_there_are_named(course, files):
    hand_in(course, **files)
    job = only_job(course)
    assert job.data is None
    assert all(name.replace("_", ".") in job.notes[0] for name in files)


def test_an_empty_folder_is_a_submission_without_a_notebook(course):
    hand_in(course)
    job = only_job(course)
    assert (job.data, job.notes) == (None, ())


def test_notebooks_in_wrong_folders_are_found(course):
    hand_in(course, **{f"{LAB}_ipynb": NOTEBOOK})
    hand_in(course, learner="ml-08", lab="reading_gauges", **{f"{LAB}_ipynb": NOTEBOOK})
    (course.submitted / "ml-09").mkdir()
    (course.submitted / "ml-09" / f"{LAB}.ipynb").write_bytes(NOTEBOOK)
    (course.submitted / "loose.ipynb").write_bytes(NOTEBOOK)
    (course.submitted / "ml-07" / LAB / ".ipynb_checkpoints").mkdir()
    (course.submitted / "ml-07" / LAB / ".ipynb_checkpoints" / "x.ipynb").write_bytes(NOTEBOOK)
    assert misplaced(course) == [
        "loose.ipynb", f"ml-08/reading_gauges/{LAB}.ipynb", f"ml-09/{LAB}.ipynb"]
