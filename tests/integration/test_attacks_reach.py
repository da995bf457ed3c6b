"""Submissions that read, write or call what is not theirs; all in the sandbox."""

import os
import re
import socket
import tempfile
import threading
from pathlib import Path

import pytest

pytestmark = pytest.mark.needs_sandbox

SECRET = "canary-4711-not-for-learners"
HIDDEN = ("BEGIN HIDDEN", "took gauge for absolute", "BEGIN SOLUTION", "SQLite format")

PROBE = """
import glob, os, pathlib
found = []
def look(path):
    try:
        with open(path, "rb") as stream:
            found.append((str(path), stream.read(200_000).decode("utf-8", "replace")))
    except OSError as error:
        found.append((str(path), type(error).__name__))
"""
# name → code that fills `found`
READERS = {
    "course folder": """
for path in PATHS:
    look(path)
    for base, folders, names in os.walk(path):
        for name in names:
            look(os.path.join(base, name))
""",
    "processes": """
for path in glob.glob("/proc/[0-9]*"):
    for name in ("environ", "cmdline", "maps", "mountinfo"):
        look(f"{path}/{name}")
    for p in glob.glob(f"{path}/fd/*"):
        try:
            found.append((p, os.readlink(p)))
        except OSError:
            pass
    found.append((path, str(os.path.exists(os.path.join(path, "root", "etc", "passwd")))))
    for name in glob.glob(os.path.join(path, "root", "*")):
        found.append((name, ""))
""",
    "environment": """
found.append(("environment", str(dict(os.environ))))
import gc, sys
found.append(("modules", str(sorted(sys.modules))))
found.append(("strings", str([o for o in gc.get_objects() if isinstance(o, dict)])[:200_000]))
""",
    "open files": """
for number in range(3, 256):
    try:
        found.append((str(number), os.readlink(f"/proc/self/fd/{number}")))
        os.lseek(number, 0, 0)
        found.append((str(number), os.read(number, 1000).decode("utf-8", "replace")))
    except OSError:
        pass
""",
    "whole disk": """
for base, folders, names in os.walk("/"):
    folders[:] = [f for f in folders if base != "/" or f not in ("proc", "usr", "lib", "bin",
                                                                "sbin", "lib64", "lib32")]
    if "site-packages" in base or "/lib/python" in base:
        folders[:] = []
        continue
    for name in names:
        if name.endswith((".md", ".toml", ".ipynb", ".db", ".json", ".txt")):
            look(os.path.join(base, name))
""",
    "devices and mounts": """
import subprocess
for device in ("/dev/mem", "/dev/kmem", "/dev/vda", "/dev/sda", "/dev/vda1", "/proc/kcore"):
    look(device)
for command in (["mount", "-o", "remount,rw", "/usr"], ["unshare", "-r", "cat", PATHS[0]],
                ["chroot", "/proc/1/root", "ls", "/"], ["mknod", "/lab/disk", "b", "254", "0"],
                ["su", "-c", "id"], ["mount", "-t", "tmpfs", "none", "/mnt"]):
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=2)
        found.append((" ".join(command), f"{done.returncode} {done.stdout[:2000]}"))
    except Exception as error:
        found.append((" ".join(command), type(error).__name__))
""",
}
SHOW = """
for path, content in found:
    for word in WORDS:
        if word[::-1] in content:
            print("LEAK", path, word)
print("looked at", len(found))
"""
WRITER = PROBE + """
written = []
for path in PATHS:
    for target in (path, os.path.join(path, "left-behind.txt")):
        try:
            with open(target, "a") as stream:
                stream.write("changed")
            written.append(target)
        except OSError:
            pass
    for act in (os.unlink, os.rmdir):
        try:
            act(path)
            written.append(f"removed {path}")
        except OSError:
            pass
print("WROTE", written)
for folder in ("/tmp", "/lab", "/dev/shm", os.path.expanduser("~")):
    pathlib.Path(folder, "coldbench-left-behind").write_text("x" * 100)
for folder in ("/", "/usr", "/etc", "/dev", "/usr/local", "/proc"):
    try:
        pathlib.Path(folder, "coldbench-left-behind").write_text("x")
        print("WROTE ALSO", folder)
    except OSError:
        pass
import os
os.makedirs(".ipython/profile_default/startup", exist_ok=True)
deep = "/lab"
for number in range(1500):
    os.mkdir("d"); os.chdir("d")
os.chmod(".", 0)
"""
NETWORK = """
import socket
def attempt(act):
    try:
        act()
        return "REACHED"
    except OSError as error:
        return "refused"
print("loopback", attempt(lambda: socket.create_connection(("127.0.0.1", PORT), 1)))
print("address", attempt(lambda: socket.create_connection(("192.0.2.1", 80), 1)))
print("name", attempt(lambda: socket.getaddrinfo("example.org", 80)))
def datagram():
    s = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    s.sendto(b"x", ("192.0.2.1", 53))
print("datagram", attempt(datagram))
def abstract():
    s = socket.socket(socket.AF_UNIX); s.connect(f"\\0coldbench-test-{GRADER}")
print("abstract", attempt(abstract))
import subprocess
print("signal", attempt(lambda: __import__("os").kill(GRADER, 9)))
print("parent", __import__("os").getppid())
"""


@pytest.fixture(scope="module")
def around(new_desk, tmp_path_factory, sums):
    """A desk amid things worth stealing, a listener, and every probe, graded once."""
    desk = new_desk()
    home = tmp_path_factory.mktemp("teacher")
    (home / "secret.txt").write_text(SECRET)
    (desk.course.desk / "notes.txt").write_text(SECRET)
    desk.submit("neighbour", files={"private.txt": SECRET})
    desk.grade("bubblewrap")  # so that a gradebook, records and feedback lie there
    mine = desk.submit
    mine("zz-honest")
    paths = [str(p) for p in (
        desk.course.source / "small-lab" / "small-lab.md", desk.root, desk.course.source,
        desk.course.desk / "gradebook.db", desk.course.submitted / "neighbour", home,
        home / "secret.txt", desk.course.records, "/etc/shadow", "/etc/passwd",
        desk.root.parent)]
    # Spelled backwards, or the probe would find its own list.
    words = [word[::-1] for word in (SECRET, *HIDDEN)]
    head = f"PATHS = {paths!r}\nWORDS = {words!r}\n"
    for name, code in READERS.items():
        mine(f"reads {name}", {"learner": head + PROBE + code + SHOW})
    mine("writes", {"answer-words": desk.reference["answer-words"] + "\n" + head + WRITER})
    server = socket.create_server(("127.0.0.1", 0))
    reached = []
    threading.Thread(target=lambda: reached.append(server.accept()), daemon=True).start()
    local = socket.socket(socket.AF_UNIX)
    local.bind(f"\0coldbench-test-{os.getpid()}")
    local.listen()
    mine("network", {"learner": f"PORT, GRADER = {server.getsockname()[1]}, {os.getpid()}\n"
                     + NETWORK})
    watched = [desk.course.source, desk.course.release, desk.course.submitted, home,
               Path.home(), desk.course.records / "small-lab"]
    before = sums(*watched)
    temporary = tmp_path_factory.mktemp("temporary")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SCHOOL_PASSWORD", SECRET)
        patch.setattr(tempfile, "tempdir", str(temporary))
        desk.grade("bubblewrap")
    desk.before, desk.after = before, sums(*watched)
    # Other runs use /tmp at any time; what these submissions would leave there is named so.
    desk.left = os.listdir(temporary) + [name for name in os.listdir("/tmp")
                                         if "left-behind" in name]
    desk.reached = reached
    server.close()
    local.close()
    return desk


@pytest.mark.parametrize("name", READERS)
def test_nothing_hidden_can_be_read(around, name):
    shown = around.outputs(f"reads {name}")
    assert "looked at" in shown, shown[:2000]
    assert "LEAK" not in shown
    assert SECRET not in shown
    assert around.scores(f"reads {name}") == around.full


def test_probes_find_what_lies_open(around):
    # The probe itself works: outside the sandbox it finds every secret.
    namespace = {"PATHS": [str(around.root)], "WORDS": [SECRET, *HIDDEN], "print": print}
    exec(PROBE + READERS["course folder"], namespace)
    text = "".join(content for _, content in namespace["found"])
    assert SECRET in text and all(word in text for word in HIDDEN)


def test_nothing_outside_can_be_written(around):
    shown = around.outputs("writes")
    # A path in /tmp may be written: inside, /tmp is the run's own and gone after it.
    written = re.search(r"WROTE \[(.*?)\]", shown)[1]
    targets = [word.strip(" '\"").removeprefix("removed ") for word in written.split(",") if word]
    assert all(target.startswith("/tmp/") for target in targets), targets
    assert "WROTE ALSO" not in shown, shown[-3000:]
    gone = set(around.before) - set(around.after)
    assert not gone
    assert {p: s for p, s in around.after.items() if p in around.before} == around.before
    new = {Path(path).name for path in set(around.after) - set(around.before)
           if not path.startswith(str(Path.home()))}
    assert new == {f"{learner}.json" for learner in
                   ("network", "writes", "zz-honest", *(f"reads {name}" for name in READERS))}
    assert not around.left
    assert around.scores("writes") == around.full


def test_the_network_and_other_processes_are_out_of_reach(around):
    shown = around.outputs("network")
    for way in ("loopback", "address", "name", "datagram", "abstract", "signal"):
        assert f"{way} refused" in shown, shown[:3000]
    assert not around.reached


def test_a_course_kept_among_the_systems_files_is_covered(around):
    # A course below a readable folder, as in a container image, is put out of sight.
    from coldbench.grading.limits import Limits
    from coldbench.grading.run import run_cells
    from coldbench.grading.sandbox import _hidden

    cell = {"id": "x", "grade_id": "x", "source":
            "import os; print(os.listdir('/usr/share'), os.access('/usr/share', os.W_OK), "
            "len(os.listdir('/usr/lib')) > 3)"}
    run = run_cells([cell], "ml-01", [], "bubblewrap", Limits(), hide=[Path("/usr/share")])
    assert run.outputs["x"][0]["text"].startswith("[] False True")
    assert _hidden([Path("/srv/course")], ["/usr", "/bin"]) == []
    again = _hidden([Path("/usr/src/course")], ["/usr", "/usr/src/course/.venv"])
    assert again == ["--tmpfs", "/usr/src/course", "--ro-bind-try", "/usr/src/course/.venv",
                     "/usr/src/course/.venv", "--remount-ro", "/usr/src/course"]


def test_an_honest_neighbour_is_unaffected(around):
    assert around.scores("zz-honest") == around.full
    assert around.record("zz-honest").notices == ()
