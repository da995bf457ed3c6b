"""Submission folders that try to trick the desk: odd ids, links, devices, giants, times."""

import json
import os
import shutil

import pytest

from coldbench.errors import InputError
from coldbench.grading.limits import Limits
from coldbench.grading.submissions import checked_learner, find_submissions

WORKING_IDS = [
    "ml-01", "Ünïcødé 学生", "طالب-٧", "with space", "O'Neill", "100%", "a.b.c", "semi;colon",
    "$(reboot)", "`id`", "=1+1", "<img src=x onerror=alert(1)>", "\"quoted\"", "x" * 64,
    "{{ 7*7 }}", "practice", "[ab]*?", "a&b=c#d", "CON",
]
REFUSED_IDS = {
    "-rf": "cannot be used as a learner id", "--force": "cannot be used as a learner id",
    " ml-02": "cannot be used as a learner id", "e\u0301milie": "composed form",
    "x" * 65: "1 to 64 visible characters", "tab\tbed": "visible characters",
    "\u202eevil": "visible characters", "new\nline": "visible characters",
    "\U0001f600" * 60: "bytes", "ML-01": "differ only in case", "ｍl-01": "differ only in case",
    "zero\u200bwidth": "visible characters", "back\\slash": "without a slash",
}


@pytest.fixture(scope="module")
def graded(new_desk, level, tmp_path_factory):
    """Every id with an honest notebook, and folders with traps, graded once."""
    desk = new_desk()
    data = json.dumps(desk.notebook({}))  # untouched: ids matter here, not marks
    for name in [*WORKING_IDS, *REFUSED_IDS]:
        desk.submit(name, data=data.encode())
    os.makedirs(os.path.join(os.fsencode(desk.course.submitted), b"bad-\xff-bytes", b"small-lab"))
    outside = tmp_path_factory.mktemp("outside")
    (outside / "key.txt").write_text("canary-key")
    shutil.copytree(desk.folder("ml-01"), outside / "small-lab")
    honest = {"answer-words": desk.reference["answer-words"] + """
import os
print("beside:", sorted(os.listdir()), [open(f).read() for f in os.listdir() if f[0] == "k"])
"""}
    desk.submit("traps", honest, files={"fine.txt": "x", "notes/more.txt": "y",
                                        ".hidden": "h", "__pycache__/x.py": "z"})
    traps = desk.folder("traps")
    (traps / "key-link.txt").symlink_to(outside / "key.txt")
    (traps / "key-folder").symlink_to(outside)
    (traps / "loop").symlink_to(traps)
    (traps / "dangling").symlink_to("/nowhere/at/all")
    (traps / "source.md").symlink_to(desk.course.source / "small-lab" / "small-lab.md")
    os.mkfifo(traps / "pipe")
    if os.geteuid() == 0:
        os.mknod(traps / "zero", 0o600 | 0o020000, os.makedev(1, 5))
    with open(traps / "giant.bin", "wb") as stream:
        stream.truncate(30_000_000_000)  # sparse: no room on the disk
    os.makedirs(os.path.join(os.fsencode(traps), b"bad-\xff"))
    with open(os.path.join(os.fsencode(traps), b"bad-\xff", b"file"), "wb") as stream:
        stream.write(b"x")
    desk.submit("many files", honest, files={f"a{n:03d}.txt": "x" for n in range(200)})
    desk.submit("large files", honest, files={f"a{n}.bin": bytes(9_000_000) for n in range(4)})
    for name, target in (("linked notebook", outside / "small-lab" / "small-lab.ipynb"),):
        desk.folder(name).mkdir(parents=True)
        (desk.folder(name) / "small-lab.ipynb").symlink_to(target)
    (desk.course.submitted / "linked learner").symlink_to(outside)
    (desk.course.submitted / "linked lab").mkdir()
    (desk.course.submitted / "linked lab" / "small-lab").symlink_to(outside / "small-lab")
    (desk.course.submitted / "a file").write_text("x")
    for name, stamp in {
        "late": "2026-12-06 17:00:00 UTC", "early": "2026-11-01T10:00:00+02:00",
        "last year of all": "9999-12-31 23:59:59 -1200", "first": "0001-01-01 00:00:00 +1400",
        "no time": "yesterday, I think", "long time": "9" * 1_000_000, "odd": "10:10:10:10:10",
        "bytes": "\x00\ufffd", "word": "nan", "digits": "1" * 90,
    }.items():
        desk.submit(name, data=data.encode(), files={"timestamp.txt": stamp})
    desk.outcome = desk.grade(level, workers=2)
    return desk


def test_ids_of_many_kinds_work(graded):
    for name in WORKING_IDS[1:]:  # the first has twins in other cases, see the next test
        assert graded.record(name).learner == name
        assert graded.scores(name) == graded.nothing
        assert graded.record(name).notices == ()
        assert graded.book(name)["check-words"] == (0.0, None, False)


@pytest.mark.parametrize("name", REFUSED_IDS)
def test_other_ids_are_refused_with_a_reason(graded, name):
    # "ML-01" sorts before "ml-01", so the second of the two is the one refused.
    refused = dict(graded.outcome.refused)
    twins = {"ML-01": "ML-01", "ｍl-01": "ｍl-01"}
    reason = refused.get(twins.get(name, name), "")
    if name in twins:
        assert {"ML-01", "ml-01"} & set(refused) and "ｍl-01" in refused
        reason = refused["ｍl-01"]
    assert REFUSED_IDS[name] in reason and "\n" not in reason


def test_bytes_that_are_no_text_are_refused(graded):
    names = [name for name, _ in graded.outcome.refused]
    assert os.fsdecode(b"bad-\xff-bytes") in names


def test_links_and_devices_are_left_out_and_named(graded):
    words = graded.words("traps")
    for name in ("key-link.txt", "key-folder", "loop", "dangling", "source.md"):
        assert f"The file {name!r} was left out: it is a link." in words
    assert "The file 'pipe' was left out: it is not a plain file." in words
    assert "The file 'giant.bin' was left out" in words
    assert "characters that cannot be shown" in words
    shown = graded.outputs("traps")
    assert "canary-key" not in shown and "fine.txt" in shown and "giant" not in shown
    assert graded.scores("traps") == graded.full


def test_folders_that_are_links_are_refused(graded):
    refused = dict(graded.outcome.refused)
    assert "is a link" in refused["linked learner"] and "is a link" in refused["linked lab"]
    assert "it is a link" in graded.words("linked notebook")
    assert graded.scores("linked notebook") == graded.nothing


def test_surplus_files_do_not_push_out_the_notebook(graded):
    assert graded.scores("many files") == graded.scores("large files") == graded.full
    assert "more than 50 files" in graded.words("many files")
    assert "20 MB together" in graded.words("large files")


def test_times_of_handing_in(graded):
    late = {name: graded.record(name).late_seconds for name in ("late", "early", "first")}
    assert late == {"late": 2 * 24 * 3600, "early": 0.0, "first": 0.0}
    assert graded.record("late").submitted_at == "2026-12-06T17:00:00+00:00"
    for name in ("no time", "long time", "odd", "bytes", "word", "last year of all", "first"):
        assert graded.record(name).submitted_at == "", name


def test_ids_in_case_twins_need_the_teacher():
    seen: dict[str, str] = {}
    checked_learner("ml-07", seen)
    with pytest.raises(InputError, match="'ml-07' and 'ML-07' differ only in case"):
        checked_learner("ML-07", seen)
    checked_learner("ml-08", seen)


def test_folders_that_cannot_be_read_are_refused(desk, monkeypatch):
    desk.submit("closed")
    desk.submit("open")

    def closed(path, *rest):
        if "closed" in str(path):
            raise PermissionError(13, "Permission denied")
        return real(path, *rest)

    real = os.open
    monkeypatch.setattr(os, "open", closed)
    jobs, refused = find_submissions(desk.course, "small-lab", Limits())
    assert [job.learner for job in jobs] == ["open"]
    assert refused == [("closed", "the folder cannot be read: Permission denied")]


def test_refusals_are_shown_without_control_characters(graded, capsys):
    from coldbench.cli.grade import say_outcome

    say_outcome(graded.course, graded.outcome)
    shown = capsys.readouterr().out
    assert "\u202e" not in shown and "\nline" not in shown and "refused '-rf'" in shown
