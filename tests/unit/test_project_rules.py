"""What every commit keeps: a fixed top level, short modules, no secrets, nothing left open.

The forbidden words are put together from pieces, since this file is searched too.
"""

import functools
import importlib.metadata
import re
import subprocess
import tomllib
from pathlib import Path

import pytest
from packaging.specifiers import SpecifierSet

import coldbench

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml",
    "constraints.txt", "labs", "source", "release", "autograde", "tests", ".ci", ".gitignore",
}
IGNORED_FOLDERS = {".git", ".venv", "__pycache__", "build", "dist"}


def words(*pieces: str) -> str:
    """Join pieces into a word that must not itself stand in this file."""
    return "".join(pieces)


MACHINE_PATHS = re.compile("|".join([
    r"(?<![\w.])/" + words("ro", "ot") + r"/",
    r"(?<![\w.])/" + words("wo", "rk") + r"/",
    r"/" + words("ho", "me") + r"/[a-z]",
    r"/" + words("Us", "ers") + r"/[A-Za-z]",
    r"[A-Za-z]:\\" + words("Us", "ers"),
    r"/tmp/" + words("bash", "_jobs"),
]))
REGISTRY_HOSTS = re.compile("|".join([
    words("py", "pi") + r"\.(org|python)", words("python", "hosted"), words("registry", r"\.npm"),
    words("deb", r"\.debian"), words("unp", "kg") + r"\.", words("jsd", "elivr"),
    r"https?://[^ )\"]*/" + words("sim", "ple") + "/",
]))
LEFT_OPEN = re.compile("|".join([
    words("NotImp", "lemented"), r"\b" + words("TO", "DO") + r"\b",
    r"\b" + words("FIX", "ME") + r"\b", r"\b" + words("XX", "X") + r"\b", words("xf", "ail"),
    words("pytest", r"\.skip\("), words("mark", r"\.skip\b"), words("import", "orskip"),
]))
RELEASE_LEAKS = re.compile("|".join([
    words("BEGIN ", "SOLUTION"), words("BEGIN HIDDEN", " TESTS"), words("BEGIN MARK", " SCHEME"),
    words(r"sheet\.", "mark") + r"\(",
]))


@functools.cache
def tracked() -> list[Path]:
    """Files of the project, relative to its root; without git, all but built ones."""
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True,
                                check=True, text=True).stdout.split("\0")
        return [Path(name) for name in listed if name and (ROOT / name).is_file()]
    except (OSError, subprocess.CalledProcessError):
        return [path.relative_to(ROOT) for path in ROOT.rglob("*") if path.is_file()
                and not IGNORED_FOLDERS & set(path.relative_to(ROOT).parts)]


def lines_matching(pattern: re.Pattern, *folders: str) -> list[str]:
    """"file:line: text" for each line of a text file that matches, in `folders` or anywhere."""
    found = []
    for path in tracked():
        if folders and path.parts[0] not in folders:
            continue
        content = (ROOT / path).read_bytes()
        if b"\0" in content:
            continue
        found += [f"{path}:{number}: {line.strip()[:120]}"
                  for number, line in enumerate(content.decode("utf-8").splitlines(), 1)
                  if pattern.search(line)]
    return found


def test_top_level_holds_only_its_entries():
    assert {path.parts[0] for path in tracked()} <= TOP_LEVEL


def test_modules_stay_below_400_lines():
    long = [str(path) for path in tracked() if path.parts[0] == "labs" and path.suffix == ".py"
            and len((ROOT / path).read_text("utf-8").splitlines()) > 400]
    assert not long


@pytest.mark.parametrize(("pattern", "folders"), [
    pytest.param(MACHINE_PATHS, (), id="no path of one machine"),
    pytest.param(REGISTRY_HOSTS, (), id="no address of a package index"),
    pytest.param(LEFT_OPEN, ("labs", "source", "autograde", "tests"), id="nothing left open"),
    pytest.param(RELEASE_LEAKS, ("release",), id="no solution or marking in release"),
])
def test_no_line_matches(pattern, folders):
    found = lines_matching(pattern, *folders)
    assert not found, "\n".join(found)


@pytest.mark.parametrize(("pattern", "line"), [
    (MACHINE_PATHS, words("open('/", "ro", "ot/x')")),
    (MACHINE_PATHS, words("cd /ho", "me/ann")),
    (REGISTRY_HOSTS, words("https://py", "pi.org/x")),
    (REGISTRY_HOSTS, words("https://cdn.jsd", "elivr.net/x.js")),
    (LEFT_OPEN, words("raise NotImp", "lementedError")),
    (LEFT_OPEN, words("# TO", "DO later")),
    (LEFT_OPEN, words("@pytest.mark.xf", "ail")),
    (RELEASE_LEAKS, words("### BEGIN HIDDEN", " TESTS")),
    (RELEASE_LEAKS, words("sheet.", "mark(")),
])
def test_the_patterns_catch_what_they_are_for(pattern, line):
    assert pattern.search(line)


def test_notebooks_in_source_are_built_not_kept():
    assert not [path for path in tracked() if path.parts[0] == "source"
                and path.suffix == ".ipynb"]


def test_version_is_one_and_the_changelog_knows_it():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == coldbench.__version__
    headings = re.findall(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.M)
    assert headings[0] == coldbench.__version__


def test_changelog_has_one_sentence_for_each_change():
    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    entries = [" ".join(entry.split()) for entry in re.findall(
        r"^- (.+(?:\n  .+)*)", text, re.M)]
    assert entries
    for entry in entries:
        plain = re.sub(r"`[^`]*`", "x", entry)
        assert plain.endswith(".") and not re.search(r"[.!?] [A-Z]", plain), entry


def test_every_dependency_is_pinned_by_version_alone():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *sum(project["optional-dependencies"].values(), [])]
    pins = [line for line in (ROOT / "constraints.txt").read_text("utf-8").splitlines()
            if line and not line.startswith("#")]
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.]+", pin) for pin in pins)
    pinned = {plain_name(pin) for pin in pins}
    assert len(pinned) == len(pins)
    assert {plain_name(requirement) for requirement in wanted} <= pinned


def test_pinned_versions_serve_the_oldest_python():
    """3.11.2 is Debian 12's Python; a release may want a later 3.11 than the kit does."""
    pins = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    checked = 0
    for distribution in importlib.metadata.distributions():
        if f"{distribution.name}=={distribution.version}" in pins:
            checked += 1
            wants = distribution.metadata.get("Requires-Python", "")
            assert SpecifierSet(wants).contains("3.11.2"), f"{distribution.name} wants {wants}"
    assert checked > 50


def plain_name(requirement: str) -> str:
    """A package's name in its normal spelling [str].

    >>> plain_name("Send2Trash>=2"), plain_name("jupyter_core==5")
    ('send2trash', 'jupyter-core')
    """
    name = re.match(r"[A-Za-z0-9._-]+", requirement)[0]
    return re.sub(r"[-_.]+", "-", name).lower()
