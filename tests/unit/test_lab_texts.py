"""What every lab's text owes its readers: true figures at its head, cautions, help, a way out."""

import re
from pathlib import Path

import pytest

from coldbench.grading.course import find_course
from coldbench.grading.gate import seeded_mistakes
from coldbench.grading.lab import grade_id_of, open_lab
from coldbench.grading.question_labels import labels_in
from coldbench.worksheet.manifest import read_manifest

ROOT = Path(__file__).resolve().parents[2]
COURSE = find_course(ROOT)
LABS = COURSE.labs()
GUIDE = (ROOT / "labs" / "guides" / "teaching-the-labs.md").read_text("utf-8")
HEADINGS = ["What you will do", "What you need", "Cautions", "Start here", "On the real bench",
            "What you learned", "Sources"]
SAFETY = {
    "others decide": "local codes, the vehicle maker's service information and licensed practice",
    "batteries": r"\bbattery\b", "rings off": r"\brings\b", "eyes": "goggles",
    "fans start by themselves": r"\bfans?\b.{0,60}\b(start|move)", "hot parts": r"\bhot\b",
    "high voltage": "orange cables", "mains": "emergency stop",
}
"""Common practice; each lab says it in its own words."""
WITH_METERS = {"relay-fan-logic", "sensor-circuits", "automatic-control", "fault-trees",
               "whole-bench-diagnosis"}
WITH_REFRIGERANT = {"pressure-temperature", "refrigerant-cycle", "automatic-control",
                    "whole-bench-diagnosis"}


def text_of(lab: str) -> str:
    """A lab's source [Markdown]."""
    return (COURSE.source / lab / f"{lab}.md").read_text("utf-8")


def section(lab: str, heading: str) -> str:
    """The text under one heading, up to the next of its rank, on one line."""
    found = re.search(rf"^## {heading}\n(.*?)(?=^## )", text_of(lab) + "\n## ", re.M | re.S)
    return " ".join(found[1].split()) if found else ""


@pytest.mark.parametrize("lab", LABS)
def test_the_line_below_the_title_tells_number_hours_and_points(lab):
    manifest, points = read_manifest(COURSE.source / lab), open_lab(COURSE, lab).points
    line = re.search(r"^Lab (\d+) · about ([\d.]+) hours.* · (\d+) points$", text_of(lab), re.M)
    assert line, "Lab N · about H hours · P points"
    assert (int(line[1]), float(line[2]), float(line[3])) == (
        manifest.order, manifest.hours, points)


@pytest.mark.parametrize("lab", LABS)
def test_headings_stand_in_their_order(lab):
    found = [heading for heading in re.findall(r"^## (.+)$", text_of(lab), re.M)
             if heading in HEADINGS]
    assert found == HEADINGS


@pytest.mark.parametrize("lab", LABS)
@pytest.mark.parametrize("what", SAFETY)
def test_cautions_name_every_danger(lab, what):
    assert re.search(SAFETY[what], section(lab, "Cautions"), re.I), what


@pytest.mark.parametrize("lab", sorted(WITH_METERS))
def test_cautions_of_a_lab_with_meters(lab):
    cautions = section(lab, "Cautions")
    assert re.search(r"(no ohmmeter on a live circuit|ohmmeter only on a dead circuit|"
                     r"ohms only with the power off)", cautions, re.I)
    assert re.search(r"pierce|probe through", cautions) and "airbags" in cautions


@pytest.mark.parametrize("lab", sorted(WITH_REFRIGERANT))
def test_cautions_of_a_lab_with_refrigerant(lab):
    """R-1234yf is class A2L, ASHRAE 34 and ISO 817."""
    cautions = section(lab, "Cautions")
    assert re.search(r"R-1234yf\W.{0,12}class A2L", cautions) and "licen" in cautions
    assert re.search(r"never let (it|refrigerant) out|do not let refrigerant out", cautions, re.I)


@pytest.mark.parametrize("lab", LABS)
def test_a_learner_who_is_stuck_finds_help_and_the_way_out(lab):
    text = text_of(lab)
    assert "To **run** a cell" in text and "When something red appears" in text
    assert "look for a unit behind a number" in text or "`SyntaxError`" in text
    assert section(lab, "Before you hand in")


@pytest.mark.parametrize("lab", LABS)
def test_every_marked_cell_belongs_to_a_numbered_question(lab):
    labels = labels_in(text_of(lab))
    marked = [grade_id_of(cell) for cell in open_lab(COURSE, lab).cells("check", "written")]
    assert marked and not [name for name in marked if name not in labels]
    numbers = [int(label.split()[1]) for label in dict.fromkeys(labels.values())
               if label.startswith("Question")]
    assert numbers == list(range(1, len(numbers) + 1))


def part_of_guide(lab: str) -> str:
    """What the teaching guide says about one lab."""
    found = re.search(rf"^## Lab (\d+): {lab}\n(.*?)(?=^## )", GUIDE + "\n## ", re.M | re.S)
    assert found, f"the guide has no part on {lab}"
    assert int(found[1]) == read_manifest(COURSE.source / lab).order
    return found[2]


@pytest.mark.parametrize("lab", LABS)
def test_the_guide_shares_out_the_hours_of_the_lab(lab):
    part = part_of_guide(lab)
    minutes = [int(number) for number in re.findall(r"^\| (\d+) \|", part, re.M)]
    assert sum(minutes) == 60 * read_manifest(COURSE.source / lab).hours
    for heading in ("**Aim.**", "**Typical mistakes**", "**Adapt.**"):
        assert part.count(heading) == 1


@pytest.mark.parametrize("lab", LABS)
def test_the_guide_calls_mistakes_as_marking_does(lab):
    table = part_of_guide(lab).split("| marking calls it |")[1].split("\n\n")[0]
    names = re.findall(r"^\| ([a-zA-Z].*?) \|", table, re.M)
    seeded = {seed.name for seed in seeded_mistakes(open_lab(COURSE, lab))}
    assert len(names) >= 4
    assert not [name for name in names if name not in seeded and f'"{name}"' not in text_of(lab)]


@pytest.mark.parametrize("lab", LABS)
def test_questions_named_in_the_guide_exist(lab):
    labels = set(labels_in(text_of(lab)).values())
    named = re.findall(r"\bquestions? (\d+)", part_of_guide(lab))
    assert not [number for number in named if f"Question {number}" not in labels]
