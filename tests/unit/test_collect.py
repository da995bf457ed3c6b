"""Collecting: what platforms export is sorted to its learners, and tricks in it are refused."""

import json
import os
import shutil
import stat
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.attempts import account, attempts_of, counting
from coldbench.grading.collect import collect, manner_of
from coldbench.grading.course import find_course
from coldbench.grading.limits import Limits
from coldbench.grading.name_pattern import NamePattern
from coldbench.grading.penalty import penalty_rule
from coldbench.grading.sources import BOMB_BYTES
from coldbench.grading.submissions import find_submissions

SMALL_COURSE = Path(__file__).resolve().parents[1] / "integration" / "small_course"
LAB = "small-lab"
NOTEBOOK = b'{"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [{"cell_type": "code", \
"source": "%s", "metadata": {"nbgrader": {"grade_id": "learner"}}}]}'


def notebook(text: str = "x = 1") -> bytes:
    return NOTEBOOK.replace(b"%s", text.encode())


@pytest.fixture
def course(tmp_path):
    return find_course(shutil.copytree(SMALL_COURSE, tmp_path / "course"))


def settings(course, text):
    """Add to course.toml and read it again."""
    path = course.desk / "course.toml"
    path.write_text(path.read_text("utf-8") + text)
    return find_course(course.root)


def archive(path, members: dict, times: dict | None = None, modes: dict | None = None) -> Path:
    """Write a zip file with members under the very names given."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, data in members.items():
            info = zipfile.ZipInfo("x", (times or {}).get(name, (2026, 12, 1, 10, 0, 0)))
            info.filename = info.orig_filename = name
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = (modes or {}).get(name, stat.S_IFREG | 0o644) << 16
            out.writestr(info, data)
    return path


def taken(course, *sources, check=False, **options):
    return collect(course, [Path(s) for s in sources], manner_of(course, **options), check)


def on_desk(course) -> dict[str, bytes]:
    return {path.relative_to(course.submitted).as_posix(): path.read_bytes()
            for path in sorted(course.submitted.rglob("*")) if path.is_file()}


def test_a_platforms_zip_is_sorted_by_the_pattern(course, tmp_path):
    export = archive(tmp_path / "export.zip", {
        "ml-01_small-lab_20261203-101500_final version.ipynb": notebook("a"),
        "ml-01_small-lab_20261203-101500_journal.jsonl": b"{}\n",
        "ml_02_small-lab_20261204-180000_x.ipynb": notebook("b"),
        "grades.csv": b"no notebook", "__MACOSX/._x.ipynb": b"",
    })
    found = taken(course, export, pattern="{learner}_{lab}_{time}_{anything}.ipynb")
    assert found.passed == ["grades.csv"] and found.refused == []
    assert on_desk(course) == {
        "ml-01/small-lab/small-lab.ipynb": notebook("a"),
        "ml-01/small-lab/journal.jsonl": b"{}\n",
        "ml-01/small-lab/timestamp.txt": b"2026-12-03T10:15:00+00:00",
        "ml_02/small-lab/small-lab.ipynb": notebook("b"),
        "ml_02/small-lab/timestamp.txt": b"2026-12-04T18:00:00+00:00"}


def test_folders_single_files_and_archives_within_need_no_pattern(course, tmp_path):
    inner = archive(tmp_path / "inner.zip", {"my work/lab.ipynb": notebook("d"),
                                             "my work/journal.jsonl": b"j", "photo.png": b""})
    export = tmp_path / "class"
    for name, data in {
        "ml-01/small-lab/small-lab.ipynb": notebook("a"), "ml-01/small-lab/journal.jsonl": b"1",
        "ml-01/small-lab/timestamp.txt": b"2026-12-01 10:00:00 +0100",
        "ml-02/small-lab.ipynb": notebook("b"), "ml-02/journal.jsonl": b"2",
        "ml-04_small-lab_x.zip": inner.read_bytes(), "readme.txt": b"",
    }.items():
        (export / name).parent.mkdir(parents=True, exist_ok=True)
        (export / name).write_bytes(data)
    single = tmp_path / "ml-03_small-lab.ipynb"
    single.write_bytes(notebook("c"))
    found = taken(course, export, single)
    desk = on_desk(course)
    assert {k.split("/")[0]: v for k, v in desk.items() if k.endswith(".ipynb")} == {
        f"ml-0{n}": notebook(text) for n, text in enumerate("abcd", 1)}
    assert {k: v for k, v in desk.items() if k.endswith("jsonl")} == {
        "ml-01/small-lab/journal.jsonl": b"1", "ml-02/small-lab/journal.jsonl": b"2",
        "ml-04/small-lab/journal.jsonl": b"j"}
    assert desk["ml-01/small-lab/timestamp.txt"] == b"2026-12-01T09:00:00+00:00"
    assert found.passed == ["photo.png", "readme.txt"] and found.refused == []


def test_a_browsers_number_in_brackets_is_read_and_sorts_last(course, tmp_path):
    export = archive(tmp_path / "x.zip", {
        "ml-01_small-lab.ipynb": notebook("first"), "ml-01_small-lab (1).ipynb": notebook("again"),
        "ml-02_small-lab(2).ipynb": notebook("b"), "ml-02_small-lab(2).jsonl": b"2"})
    found = taken(course, export)
    assert found.passed == [] and len(attempts_of(course, LAB, "ml-01")) == 2
    desk = on_desk(course)
    assert desk["ml-01/small-lab/small-lab.ipynb"] == notebook("again")
    assert desk["ml-02/small-lab/journal.jsonl"] == b"2"


def test_single_notebooks_bring_the_journals_that_lie_beside_them(course, tmp_path):
    for name, data in {"ml-01_small-lab.ipynb": notebook("a"), "ml-01_small-lab.jsonl": b"1",
                       "ml-02_small-lab.ipynb": notebook("b"), "journal.jsonl": b"whose?",
                       "alone/ml-03_small-lab.ipynb": notebook("c"), "alone/journal.jsonl": b"3",
                       }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(data)
    found = taken(course, *sorted(tmp_path.glob("ml-0*")), tmp_path / "alone/ml-03_small-lab.ipynb")
    assert found.refused == [] and found.passed == []
    assert {k: v for k, v in on_desk(course).items() if k.endswith("jsonl")} == {
        "ml-01/small-lab/journal.jsonl": b"1", "ml-03/small-lab/journal.jsonl": b"3"}



TRICKS = {  # member → words of the refusal
    "../ml-09_small-lab.ipynb": "leads out of the folder",
    "a/../../ml-09_small-lab.ipynb": "leads out of the folder",
    "/etc/ml-09_small-lab.ipynb": "absolute",
    "C:/ml-09_small-lab.ipynb": "absolute",
    "..\\ml-09_small-lab.ipynb": "another system",
    "a//ml-09_small-lab.ipynb": "empty part",
    "\x1b[31mml-09_small-lab.ipynb": "cannot be shown",
    "link_small-lab.ipynb": "it is a link",
    "device_small-lab.ipynb": "it is a device",
    "bomb_small-lab.ipynb": "as an archive bomb does",
    "giant_small-lab.ipynb": "larger than the 20 MB",
    "ML-01_small-lab.ipynb": "differs only in case",
}


def test_tricks_are_refused_by_name_and_nothing_is_written_outside(course, tmp_path):
    members = {"ml-01_small-lab.ipynb": notebook("a"), **dict.fromkeys(TRICKS, notebook("bad")),
               "bomb_small-lab.ipynb": bytes(2 * BOMB_BYTES),
               "giant_small-lab.ipynb": os.urandom(21_000_000),
               "link_small-lab.ipynb": str(course.desk / "course.toml").encode()}
    (tmp_path / "in").mkdir()
    export = archive(tmp_path / "in" / "x.zip", members, modes={
        "link_small-lab.ipynb": stat.S_IFLNK | 0o777,
        "device_small-lab.ipynb": stat.S_IFCHR | 0o666})
    before = {p for p in tmp_path.rglob("*")}
    found = taken(course, export)
    refused = {name.removesuffix(" (x.zip)"): why for name, why in found.refused}
    for name, words in TRICKS.items():
        assert words in refused.pop(name.replace("\x1b", "?")), name
    assert refused == {}
    assert [one.work.learner for one in found.collected] == ["ml-01"]
    new = {p for p in tmp_path.rglob("*")} - before
    assert all(p.is_relative_to(course.desk) for p in new)
    assert not (tmp_path / "ml-09_small-lab.ipynb").exists()


def test_folders_with_links_and_devices(course, tmp_path):
    export = tmp_path / "class"
    (export / "ml-01").mkdir(parents=True)
    (export / "ml-01" / "small-lab.ipynb").write_bytes(notebook())
    (export / "ml-02").symlink_to(export / "ml-01")
    (export / "ml-03_small-lab.ipynb").symlink_to(course.desk / "course.toml")
    os.mkfifo(export / "ml-04_small-lab.ipynb")
    found = taken(course, export)
    assert [one.work.learner for one in found.collected] == ["ml-01"]
    assert dict(found.refused) == {
        "ml-02 (class)": "it is a link", "ml-03_small-lab.ipynb (class)": "it is a link",
        "ml-04_small-lab.ipynb (class)": "it is a device, not a file"}


def test_a_learners_own_archive_cannot_fill_the_memory(course, tmp_path):
    many = {f"n{n}.ipynb": os.urandom(40_000) + bytes(4_900_000) for n in range(6)}
    export = archive(tmp_path / "x.zip", {
        "ml-01/small-lab/work.zip": archive(tmp_path / "inner.zip", many).read_bytes()})
    found = taken(course, export)
    assert len(found.collected) == 4  # of 4.94 MB each; 20 MB are read
    assert [why for _, why in found.refused] == [
        "the notebooks and journals of this archive hold more than 20 MB together"] * 2


def test_an_archive_packed_in_another_way_stops_nobody(course, tmp_path):
    export = tmp_path / "x.zip"
    with zipfile.ZipFile(export, "w", zipfile.ZIP_LZMA) as out:
        for n, way in enumerate((zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2, zipfile.ZIP_STORED), 1):
            out.writestr(f"ml-0{n}_{LAB}.ipynb", notebook(), way)
    data = bytearray(export.read_bytes())
    start = data.index(b"ml-01_") + len(f"ml-01_{LAB}.ipynb")
    data[start + 5:start + 9] = b"\xff" * 4  # LZMA's size of memory
    data[start + 12:start + 20] = b"\xff" * 8
    export.write_bytes(data)
    found = taken(course, export)
    assert [one.work.learner for one in found.collected] == ["ml-02", "ml-03"]
    assert [why.split(";")[0] for _, why in found.refused] == [
        "it is packed in a way that is not read here"]


@pytest.mark.parametrize(("beside", "file_times", "hour"), [
    ({}, False, None), ({}, True, 10), ({"timestamp.txt": b"2026-12-01 11:00:00 UTC"}, True, 11)])
def test_times_inside_a_learners_own_archive_do_not_count(course, tmp_path, beside, file_times,
                                                          hour):
    early = {"work.ipynb": (2026, 11, 1, 1, 0, 0)}
    inner = archive(tmp_path / "inner.zip", {
        "work.ipynb": notebook(), "timestamp.txt": b"2026-11-01 01:00:00 UTC"}, early)
    export = archive(tmp_path / "x.zip", {
        f"ml-01/small-lab/{name}": data
        for name, data in {"work.zip": inner.read_bytes(), **beside}.items()})
    taken(course, export, file_times=file_times)
    stamp = on_desk(course).get("ml-01/small-lab/timestamp.txt")
    assert stamp == (f"2026-12-01T{hour}:00:00+00:00".encode() if hour else None)


def test_giants_at_the_desk_stop_nobody(course, tmp_path):
    """Files of 50 GB that take no room on the disk, beside honest work."""
    export = archive(tmp_path / "x.zip", {f"ml-0{n}_small-lab.ipynb": notebook() for n in (1, 2)})
    taken(course, export)
    folder = course.submitted / "ml-01" / LAB
    for name in (f"{LAB}.ipynb", "journal.jsonl", "timestamp.txt"):
        with open(folder / name, "wb") as stream:
            stream.truncate(50 * 1024**3)
    limits = Limits(notebook_MB=1)
    jobs, refused = find_submissions(course, LAB, limits)
    assert [job.learner for job in jobs] == ["ml-01", "ml-02"] and refused == []
    assert len(jobs[0].data) == 1_000_001 and jobs[0].files == ()
    again = taken(course, archive(tmp_path / "y.zip", {f"ml-01_{LAB}.ipynb": notebook("b")}))
    assert [one.state for one in again.collected] == ["new"] and again.refused == []
    assert on_desk(course)[f"ml-01/{LAB}/{LAB}.ipynb"] == notebook("b")


def test_many_notebooks_beside_one_are_not_all_read(course):
    folder = course.submitted / "ml-01" / LAB
    folder.mkdir(parents=True)
    for name in [LAB, *"abcdef"]:
        (folder / f"{name}.ipynb").write_bytes(b" " * 600_000)
    _, refused = find_submissions(course, LAB, Limits(notebook_MB=1))
    job = find_submissions(course, LAB, Limits(notebook_MB=1))[0][0]
    assert refused == [] and len(job.data) == 600_000
    assert sum("may hold 1 MB together" in note for note in job.notes) == 4


def test_collecting_writes_through_no_link_at_the_desk(course, tmp_path):
    taken(course, archive(tmp_path / "x.zip", {f"ml-0{n}_{LAB}.ipynb": notebook() for n in (1, 2)}))
    mine = tmp_path / "mine.txt"
    mine.write_text("the teacher's own")
    for name in (f".{LAB}.ipynb.part", f"{LAB}.ipynb", "timestamp.txt", "journal.jsonl"):
        (course.submitted / "ml-01" / LAB / name).unlink(missing_ok=True)
        (course.submitted / "ml-01" / LAB / name).symlink_to(mine)
    elsewhere = (course.submitted / "ml-02").rename(tmp_path / "elsewhere")
    (course.submitted / "ml-02").symlink_to(elsewhere)
    again = taken(course, archive(tmp_path / "y.zip", {
        f"ml-0{n}_{LAB}.ipynb": notebook("b") for n in (1, 2)}))
    assert mine.read_text() == "the teacher's own"
    assert on_desk(course)[f"ml-01/{LAB}/{LAB}.ipynb"] == notebook("b")
    assert (elsewhere / LAB / f"{LAB}.ipynb").read_bytes() == notebook()
    assert ["is a link" in why for _, why in again.refused] == [True]


def test_broken_archives_and_ids_stop_nothing(course, tmp_path):
    (tmp_path / "broken.zip").write_bytes(b"PK\x03\x04 not really")
    with pytest.raises(InputError, match="broken.zip: this is not a zip file"):
        taken(course, tmp_path / "broken.zip")
    data = bytearray(archive(tmp_path / "hurt.zip", {
        "ml-01_small-lab.ipynb": notebook("a"), "ml-02_small-lab.ipynb": notebook("b")}
    ).read_bytes())
    data[60] ^= 0xFF  # in the first member's packed bytes
    (tmp_path / "hurt.zip").write_bytes(data)
    deep = BytesIO()
    with zipfile.ZipFile(deep, "w") as out:
        out.writestr("x.zip", (tmp_path / "hurt.zip").read_bytes())
    archive(tmp_path / "more.zip", {
        "ml-03_small-lab.zip": b"no archive", "ml-04_small-lab.zip": deep.getvalue(),
        "-rf_small-lab.ipynb": notebook(), "ml-05_small-lab.ipynb": notebook("e"),
        "Ml-05_small-lab_again.ipynb": notebook("f"), "ml-06_small-lab_x.jsonl": b"{}"})
    found = taken(course, tmp_path / "hurt.zip", tmp_path / "more.zip")
    assert sorted(one.work.learner.lower() for one in found.collected) == ["ml-02", "ml-05"]
    said = "\n".join(f"{name}: {why}" for name, why in found.refused)
    for words in ("ml-01_small-lab.ipynb (hurt.zip): it cannot be unpacked",
                  "ml-03_small-lab.zip (more.zip): ml-03_small-lab.zip: this is not a zip file",
                  "-rf_small-lab.ipynb: the folder name '-rf' cannot be used",
                  "differ only in case", "ml-06_small-lab_x.jsonl (more.zip): no notebook"):
        assert words in said, said
    assert "x.zip" in found.passed  # archives in a learner's archive are not opened


def attempt_files(tmp_path, *texts):
    return archive(tmp_path / f"{len(texts)}-{texts[-1]}.zip", {
        f"ml-01_small-lab_2026-12-0{n}-120000.ipynb": notebook(text)
        for n, text in enumerate(texts, 1)})


FORM = {"pattern": "{learner}_{lab}_{time}.ipynb"}


@pytest.mark.parametrize(("policy", "text"), [("last", "c"), ("first", "a"), ("best", "c")])
def test_every_attempt_is_kept_and_one_counts(course, tmp_path, policy, text):
    course = settings(course, f'[collect]\nattempts = "{policy}"\n')
    taken(course, attempt_files(tmp_path, "a", "b", "c"), **FORM)
    assert on_desk(course)["ml-01/small-lab/small-lab.ipynb"] == notebook(text)
    assert [a.number for a in attempts_of(course, LAB, "ml-01")] == [1, 2, 3]
    place = {"last": 3, "first": 1, "best": 3}[policy]
    assert counting(course, LAB, "ml-01") == (place, 3)
    (said,) = account(course, LAB, "ml-01")
    assert said == f"3 attempts were handed in; attempt {place} counts, as the {policy} one."


def test_a_second_collection_adds_only_what_is_new(course, tmp_path):
    taken(course, attempt_files(tmp_path, "a", "b"), **FORM)
    found = taken(course, attempt_files(tmp_path, "a", "b", "c"), **FORM)
    assert [(one.number, one.state, one.counts) for one in found.collected] == [
        (1, "again", False), (2, "again", False), (3, "new", True)]
    assert on_desk(course)["ml-01/small-lab/small-lab.ipynb"] == notebook("c")


def test_what_was_put_there_by_hand_is_kept(course, tmp_path):
    folder = course.submitted / "ml-01" / LAB
    folder.mkdir(parents=True)
    (folder / f"{LAB}.ipynb").write_bytes(notebook("by hand"))
    (folder / "journal.jsonl").write_bytes(b"hers")
    taken(course, attempt_files(tmp_path, "a"), **FORM)
    kept = attempts_of(course, LAB, "ml-01")
    assert (kept[0].folder / f"{LAB}.ipynb").read_bytes() == notebook("by hand")
    assert (kept[0].folder / "journal.jsonl").read_bytes() == b"hers"
    assert on_desk(course)["ml-01/small-lab/small-lab.ipynb"] == notebook("a")
    assert "ml-01/small-lab/journal.jsonl" not in on_desk(course)


def test_a_check_writes_nothing_and_says_the_same(course, tmp_path):
    export = attempt_files(tmp_path, "a", "b")
    before = sorted(course.root.rglob("*"))
    said = taken(course, export, check=True, **FORM)
    assert sorted(course.root.rglob("*")) == before
    assert taken(course, export, **FORM) == said


def test_times_of_files_count_only_when_told(course, tmp_path):
    course = settings(course, '[collect]\nzone = "Europe/Berlin"\n')
    export = archive(tmp_path / "x.zip", {"ml-01_small-lab.ipynb": notebook()})
    found = taken(course, export, check=True)
    assert found.collected[0].work.moment is None
    found = taken(course, export, file_times=True)
    assert found.collected[0].work.moment == datetime(2026, 12, 1, 9, tzinfo=UTC)


def test_damage_is_told_at_collection(course, tmp_path):
    export = archive(tmp_path / "x.zip", {"ml-01_small-lab.ipynb": notebook()[:-20],
                                          "ml-02_small-lab.ipynb": b"\xff\xfe\x00"})
    repairs = {one.work.learner: one.repairs for one in taken(course, export).collected}
    assert "not a notebook" in repairs["ml-02"][-1] and repairs["ml-01"]
    assert on_desk(course)["ml-01/small-lab/small-lab.ipynb"] == notebook()[:-20]


@pytest.mark.parametrize(("pattern", "words"), [
    ("{learner}_{lab}.zip", "must end in .ipynb"), ("{who}_{lab}.ipynb", "field {who}"),
    ("{lab}.ipynb", "no field {learner}"), ("{learner}.ipynb", "no field {lab}"),
    ("{learner}{learner}{lab}.ipynb", "{learner} twice"),
    ("{learner}{lab}" + "{anything}" * 9 + ".ipynb", "more than 8 fields"),
])
def test_patterns_that_cannot_be_used(pattern, words):
    with pytest.raises(InputError, match=words.replace("{", r"\{")):
        NamePattern(pattern, [LAB])


@pytest.mark.parametrize(("text", "hour"), [
    ("2026-12-04-1630", 16), ("20261204163000", 16), ("2026-12-04T16-30-00Z", 16),
    ("2026-12-04 16.30", 16), ("1796402400", 16), ("1796402400000", 16),
    ("2026-12-04-163000+0200", 14),
])
def test_times_in_names(text, hour):
    named = NamePattern("{learner}_{lab}_{time}.ipynb", [LAB]).read(f"ml-01_{LAB}_{text}.ipynb")
    assert named.time.replace(minute=0, second=0) == datetime(2026, 12, 4, hour, tzinfo=UTC)


@pytest.mark.parametrize(("text", "words"), [
    ('[collect]\nattempts = "worst"\n', "accepted are last, first, best"),
    ('[collect]\nzone = "Nowhere/Land"\n', "no time zone"),
    ('[collect]\nfile_times = "maybe"\n', "must be yes or no"),
    ('[collect]\npatern = "x"\n', "collect.patern: unknown key"),
])
def test_settings_that_cannot_be_used(course, text, words):
    with pytest.raises(InputError, match=words):
        manner_of(settings(course, text))


def test_the_rule_of_penalties():
    rule = penalty_rule({"late_grace_minutes": 15, "late_percent_per_day": 10,
                         "late_most_percent": 30, "attempt_percent": 5})
    hours = 3600
    assert [rule.points_off(20, late, 0) for late in (0, 900, 901, 25 * hours, 900 * hours)] == [
        0, 0, 2, 4, 6]
    assert rule.points_off(20, 0, 2) == 2 and rule.points_off(20, 1e9, 50) == 20
    for bad in ({"late": 1}, {"attempt_percent": -1}, {"attempt_percent": True},
                {"late_percent_per_day": 101}):
        with pytest.raises(InputError, match="course.toml: penalty."):
            penalty_rule(bad)


def test_the_command_says_all_of_it(course, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(course.root)
    export = archive(tmp_path / "x.zip", {"ml-01_small-lab.ipynb": notebook()[:-20],
                                          "../up_small-lab.ipynb": notebook(), "list.csv": b""})
    with pytest.raises(SystemExit) as end:
        main(["collect", str(export)])
    assert end.value.code == 0
    shown = capsys.readouterr().out
    for words in ("ml-01  small-lab  attempt 1: counts; ml-01_small-lab.ipynb from x.zip",
                  "refused '../up_small-lab.ipynb (x.zip)': its path leads out",
                  "not taken: 'list.csv'", "1 attempt new, 0 here already, 1 refused",
                  "counts as on time", "coldbench grade"):
        assert words in shown
    for words in (["collect", str(tmp_path / "absent")], ["collect", str(course.root)]):
        with pytest.raises(SystemExit) as end:
            main(words)
        assert end.value.code == 2 and len(capsys.readouterr().err.splitlines()) == 1


def test_a_terminal_without_the_letters_of_a_name_is_no_trouble(course, tmp_path):
    export = archive(tmp_path / "x.zip", {"Jörg_small-lab.ipynb": notebook()})
    done = subprocess.run(
        [sys.executable, "-c", "from coldbench.cli import main; main()", "collect", str(export),
         "--check", "--course", str(course.root)], capture_output=True, text=True, timeout=60,
        env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0 and "J?rg  small-lab  attempt 1" in done.stdout, done.stderr


def test_a_file_that_cannot_be_used_is_one_sentence(course, tmp_path, capsys):
    (course.desk / "collecting.lock").mkdir()
    export = archive(tmp_path / "x.zip", {"ml-01_small-lab.ipynb": notebook()})
    with pytest.raises(SystemExit) as end:
        main(["collect", str(export), "--course", str(course.root)])
    said = capsys.readouterr().err
    assert end.value.code == 2 and said.count("\n") == 1
    assert "collecting.lock cannot be written: Is a directory" in said


def test_what_a_name_hides_is_said(course, tmp_path, capsys, monkeypatch):
    def owned(learner):
        cell = {"cell_type": "code", "source": f'LEARNER = "{learner}"',
                "metadata": {"nbgrader": {"grade_id": "learner"}}}
        return json.dumps({"nbformat": 4, "cells": [cell]}).encode()

    monkeypatch.chdir(course.root)
    export = archive(tmp_path / "x.zip", {
        "ml-01_77_small-lab.ipynb": owned("ml-01"), "ml-02_small-lab.ipynb": owned("ml-02"),
        "ml-03/small-lab/x.ipynb": owned("ml-09"), "ml-03/small-lab/timestamp.txt": b"yesterday",
        "ml-04_smal-lab.ipynb": owned("ml-04"), "ml-05_small-lab.ipynb": b" "})
    with pytest.raises(SystemExit):
        main(["collect", str(export), "--check"])
    shown = capsys.readouterr().out
    for words in ("'ml-01_77' begins with the id in the notebook, 'ml-01'", "--pattern: 'ml-04_smal",
                  "belongs to 'ml-09'", "'yesterday' is no time that can be read", "file is empty"):
        assert words in shown
    assert shown.count("belongs to") == 2
    with pytest.raises(SystemExit):
        main(["collect", str(archive(tmp_path / "z.zip", {
            "ml-01_small-lab.ipynb": notebook("s = Worksheet.open('fault-trees')")})), "--check"])
    assert "The notebook is of another lab, fault-trees." in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["collect", str(archive(tmp_path / "y.zip", {
            "ml-01_small-lab_20269904-120000.ipynb": owned("ml-01")})), "--check",
            "--pattern", "{learner}_{lab}_{time}.ipynb"])
    assert "'20269904-120000' is no time" in capsys.readouterr().out
