"""The README files and guides: links lead somewhere, figures and options are the program's own."""

import re
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

from coldbench.cli.app import app
from coldbench.grading.course import find_course
from coldbench.grading.limits import Limits, limits_from
from coldbench.worksheet.manifest import read_manifest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "autograde/README.md",
                                  "release/start.md")] + sorted(ROOT.glob("labs/guides/*.md"))
COURSE = find_course(ROOT)


def blocks(page: Path) -> list[str]:
    """Code of a page: fenced blocks and indented ones."""
    text = page.read_text("utf-8")
    fenced = re.findall(r"^```\w*\n(.*?)^```", text, re.M | re.S)
    return fenced + re.findall(r"(?:^    .*\n)+", text, re.M)


def spoken_commands() -> list:
    """Every `coldbench …` that a page says [page's name, words after it]."""
    found = []
    for page in PAGES:
        text = page.read_text("utf-8")
        lines = [line.strip() for block in blocks(page) for line in block.splitlines()]
        lines += re.findall(r"`(coldbench [^`]+)`", text)
        found += [pytest.param(line, id=f"{page.stem}-{line[:50]}")
                  for line in dict.fromkeys(lines) if re.match(r"coldbench [a-z]", line)]
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_inside_the_project_lead_somewhere(page):
    links = re.findall(r"\]\(([^)\s#]+)", page.read_text("utf-8"))
    assert not [link for link in links
                if "://" not in link and not (page.parent / link).exists()]


@pytest.mark.parametrize("line", spoken_commands())
def test_commands_and_options_exist(line):
    words = [word.strip(".,;:)") for word in re.split(r"[\s/]+", line)[1:]]
    here = get_command(app)
    assert words[0] in here.commands
    while words and getattr(here, "commands", None) and words[0] in here.commands:
        here = here.commands[words.pop(0)]
    known = {name for option in here.params for name in (*option.opts, *option.secondary_opts)}
    assert not [word for word in words if re.match(r"--?[a-z]", word)
                and word.split("=")[0] not in known]


def test_the_table_of_labs_is_the_labs_own():
    rows = re.findall(r"^\| ([a-z-]+) \| ([\d.]+) \|", (ROOT / "README.md").read_text("utf-8"),
                      re.M)
    assert [(name, float(hours)) for name, hours in rows] == [
        (lab, read_manifest(COURSE.source / lab).hours) for lab in COURSE.labs()]


def test_every_lab_has_a_due_date():
    assert set(COURSE.due) == set(COURSE.labs())


def test_the_limits_shown_are_those_that_hold():
    (block,) = [one for one in blocks(ROOT / "autograde" / "README.md") if "[limits]" in one]
    lines = "\n".join(line.strip() for line in block.splitlines())
    table = tomllib.loads(lines)["limits"]
    assert table.keys() == vars(Limits()).keys() and limits_from(table) == Limits()
