"""Submitted notebooks that are damaged or made up: mended or scored 0, with a sentence."""

import copy
import json

import pytest

HUGE = 21_000_000  # bytes; limits.notebook_MB is 20


def cell_named(tree: dict, grade_id: str) -> dict:
    """The cell of a notebook with a grade_id."""
    return next(c for c in tree["cells"] if c["metadata"]["nbgrader"]["grade_id"] == grade_id)


def every_grader(tree: dict, change) -> dict:
    """Replace every cell's nbgrader metadata by what `change` makes of it."""
    for cell in tree["cells"]:
        cell["metadata"]["nbgrader"] = change(cell["metadata"]["nbgrader"])
    return tree


def without_locked(tree: dict) -> dict:
    """Without set-up and check cells."""
    tree["cells"] = [c for c in tree["cells"] if not c["metadata"]["nbgrader"]["locked"]]
    return tree


def reordered(tree: dict) -> dict:
    """Cells in reverse order: cells are put back where the lab has them."""
    tree["cells"].reverse()
    return tree


def retyped(tree: dict) -> dict:
    """Code cells made Markdown and the other way round."""
    for cell in tree["cells"]:
        cell["cell_type"] = "markdown" if cell["cell_type"] == "code" else "code"
    return tree


def duplicated(tree: dict) -> dict:
    """Every cell twice, the copies after all originals."""
    tree["cells"] += copy.deepcopy(tree["cells"])
    return tree


def more_points(tree: dict) -> dict:
    """Check cells worth more, already solved, and with marks in their outputs."""
    for cell in tree["cells"]:
        if cell["metadata"]["nbgrader"]["grade"]:
            cell["metadata"]["nbgrader"].update(points=1000, schema_version=3)
            cell["outputs"] = [{"output_type": "execute_result", "execution_count": 1,
                                "metadata": {}, "data": {"text/plain": "1000"}}]
    return tree


def checks_replaced(tree: dict) -> dict:
    """Check cells that hand out marks."""
    for cell in tree["cells"]:
        if cell["metadata"]["nbgrader"]["locked"] and cell["cell_type"] == "code":
            cell["source"] = "3.0"
    return tree


def answers_as_checks(tree: dict) -> dict:
    """Answer cells that claim to be the checks, checks that claim to be answers."""
    swap = {"answer-evaporating": "check-evaporating", "check-evaporating": "answer-evaporating"}
    return every_grader(tree, lambda g: {**g, "grade_id": swap.get(g["grade_id"], g["grade_id"])})


def tagged(tree: dict) -> dict:
    """Tags and notebook metadata that other tools obey."""
    for cell in tree["cells"]:
        cell["metadata"].update(tags=["raises-exception", "skip-execution", "remove-cell"],
                                deletable=True, editable=True, coldbench={"role": "setup"})
    tree["metadata"] = {"kernelspec": {"name": "evil", "display_name": "x", "language": "bash"},
                        "language_info": {"name": "bash"}, "execution": {"timeout": -1},
                        "celltoolbar": "x", "widgets": 5}
    return tree


def old_format(tree: dict) -> dict:
    """nbformat 3."""
    cells = [{"cell_type": c["cell_type"], "metadata": c["metadata"], "language": "python",
              "input" if c["cell_type"] == "code" else "source": c["source"], "outputs": []}
             for c in tree["cells"]]
    return {"nbformat": 3, "nbformat_minor": 0, "metadata": {"name": ""},
            "worksheets": [{"cells": [{"cell_type": "heading", "level": 1, "source": "x",
                                       "metadata": {}}, *cells]}]}


def odd_cells(tree: dict) -> dict:
    """Things among the cells that are none, and sources as lists of lines."""
    for cell in tree["cells"]:
        cell["source"] = cell["source"].splitlines(keepends=True)
    tree["cells"] = [None, 5, [], "cell", {}, {"cell_type": 7, "source": 3},
                     {"source": ["a", 1]}, {"cell_type": "raw", "metadata": [], "source": "<b>"},
                     *tree["cells"], {"metadata": {"nbgrader": []}, "source": "\ud800\x00"}]
    return tree


def many_cells(tree: dict) -> dict:
    """Five thousand cells of the learner's own behind the lab's."""
    tree["cells"] += [{"cell_type": "code", "metadata": {}, "source": f"own = {n}", "outputs": [],
                       "execution_count": None} for n in range(5_000)]
    return tree


def other_set_up(tree: dict) -> dict:
    """The set-up opens another lab."""
    return json.loads(json.dumps(tree).replace('open(\\"small-lab', 'open(\\"other-lab'))


def other_lab(tree: dict) -> dict:
    """The notebook of another lab: its set-up, and answers under other names."""
    return every_grader(other_set_up(tree), lambda g: {**g, "grade_id": "x" + g["grade_id"]})


SAME = {"check-evaporating": 3.0, "check-superheat": 2.0, "check-words": 4.0}
# name → (what is done to an honest notebook, words said about it); it keeps every mark
MENDED = {
    "locked cells deleted": (without_locked, "'check-words' was missing; it was put back"),
    "reordered": (reordered, ""),
    "retyped": (retyped, "'answer-words' had been turned into another type"),
    "duplicated": (duplicated, "'answer-words' stood twice"),
    "more points": (more_points, ""),
    "checks replaced": (checks_replaced, "'check-words' had been changed"),
    "tagged": (tagged, ""),
    "old format": (old_format, "old format (3)"),
    "odd cells": (odd_cells, "damaged cells were left out"),
    "many cells": (many_cells, "only the first 3,000 were read"),
    "schema 99": (lambda t: every_grader(t, lambda g: {**g, "schema_version": 99}), ""),
    "schema words": (lambda t: every_grader(t, lambda g: {**g, "schema_version": "x",
                                                          "points": "many", "locked": []}), ""),
    "flags turned": (lambda t: every_grader(t, lambda g: {**g, "grade": not g["grade"],
                                                          "solution": True, "task": True}), ""),
    "byte order mark": (lambda t: b"\xef\xbb\xbf" + json.dumps(t).encode(), ""),
    "UTF-16": (lambda t: json.dumps(t).encode("utf-16"), "saved as UTF-16"),
    "a letter hurt": (lambda t: json.dumps(t).encode().replace(b"Small lab", b"Small l\xe4b", 1),
                      "not UTF-8 text all through"),
    "a cell hurt": (lambda t: json.dumps(t, sort_keys=True).encode().replace(
        b'"cell_type"', b'"cell_type', 1), "whole cells of it could be read"),
    "nbformat 99": (lambda t: {**t, "nbformat": 99, "nbformat_minor": -1}, ""),
    "nbformat words": (lambda t: {**t, "nbformat": "four", "metadata": []}, ""),
    "cut at the end": (lambda t: json.dumps(t).encode()[:-40], "breaks off in the middle"),
    "long number": (lambda t: json.dumps(t).encode().replace(
        b'"nbformat": 4', b'"nbformat": ' + b"9" * 5_000), "breaks off in the middle"),
    "another set-up": (other_set_up, "'setup' had been changed"),
    "cells twice": (lambda t: json.dumps(t).encode().replace(
        b'{"cells"', b'{"cells": [], "cells"', 1), ""),
}
# name → (the file, words said about it); nothing can be marked
HOPELESS = {
    "no metadata": (lambda t: every_grader(t, lambda g: "x"), "was missing"),
    "metadata is a list": (lambda t: every_grader(t, lambda g: [g]), "was missing"),
    "retitled": (lambda t: every_grader(t, lambda g: {**g, "grade_id": g["grade_id"] + "x"}),
                 "'answer-words' was missing"),
    "of another lab": (other_lab, "the notebook of another lab, other-lab: nothing"),
    "no cells": (lambda t: {**t, "cells": []}, "holds no cells"),
    "cells is a table": (lambda t: {**t, "cells": {"a": 1}}, "holds no list of cells"),
    "a list": (lambda t: b"[1, 2]", "not a notebook"),
    "a number": (lambda t: b"NaN", "not a notebook"),
    "empty": (lambda t: b"", "The file is empty."),
    "text": (lambda t: b"Dear teacher, here is my notebook", "not valid JSON"),
    "Latin letters": (lambda t: "é".encode("latin-1"), "not UTF-8"),
    "zip archive": (lambda t: b"PK\x03\x04" + bytes(1000), "not "),
    "deep": (lambda t: b'{"cells": ' + b"[" * 200_000, "no"),
    "deep cell": (lambda t: b'{"cells": [{"source": ' + b"[" * 200_000 + b"]" * 200_000 + b"}]}",
                  "holds no cells"),
    "huge": (lambda t: b" " * HUGE, "larger than the 20 MB"),
    "a million cells": (lambda t: b'{"cells": [' + b"{}," * 1_000_000 + b"{}]}",
                        "1,000,001 cells"),
}


@pytest.fixture(scope="module")
def graded(new_desk, level):
    """One class with every damaged notebook."""
    desk = new_desk()
    desk.submit("aa-honest")
    desk.submit("zz-honest")
    honest = desk.notebook(desk.reference)
    for group in (MENDED, HOPELESS):
        for name, (damage, _) in group.items():
            desk.submit(name, data=damage(copy.deepcopy(honest)))
    desk.submit("swapped ids", data=answers_as_checks(copy.deepcopy(honest)))
    desk.submit("blank with points", data=more_points(desk.notebook({})))
    written = copy.deepcopy(honest)
    cell_named(written, "written")["source"] = "Because <script>alert(1)</script>."
    desk.submit("written", data=written)
    (desk.course.submitted / "no notebook" / "small-lab").mkdir(parents=True)
    other = desk.folder("other name")
    other.mkdir(parents=True)
    (other / "My lab (copy).ipynb").write_text(json.dumps(honest))
    desk.outcome = desk.grade(level)
    return desk


@pytest.mark.parametrize("name", MENDED)
def test_damage_that_can_be_mended_costs_nothing(graded, name):
    assert graded.scores(name) == SAME
    assert MENDED[name][1] in graded.words(name)


@pytest.mark.parametrize("name", HOPELESS)
def test_damage_that_cannot_is_said(graded, name):
    assert graded.scores(name) == graded.nothing
    assert HOPELESS[name][1] in " ".join(graded.record(name).repairs)


def test_points_and_outputs_of_a_submission_do_not_count(graded):
    for name in ("more points", "blank with points"):
        assert [cell.points for cell in graded.record(name).cells] == [3.0, 2.0, 4.0, 3.0]
        assert "1000" not in graded.outputs(name)
    assert graded.scores("blank with points") == graded.nothing
    assert all(score == 0 for score, _, _ in graded.book("blank with points").values())


def test_answers_under_another_cells_name_do_not_stop_the_rest(graded):
    scores = graded.scores("swapped ids")
    assert scores["check-evaporating"] == 0.0 and scores["check-words"] == 4.0


def test_a_folder_without_or_with_another_notebook(graded):
    assert graded.scores("no notebook") == graded.nothing
    assert "No notebook was handed in" in graded.words("no notebook")
    assert graded.scores("other name") == graded.full


def test_written_answers_wait_for_a_hand(graded):
    assert graded.book("written")["written"] == (None, None, True)
    assert graded.book("aa-honest")["written"] == (0.0, None, False)


def test_nobody_else_is_touched(graded):
    assert not graded.outcome.refused
    assert len(graded.outcome.records) == len(MENDED) + len(HOPELESS) + 7
    for learner in ("aa-honest", "zz-honest"):
        assert graded.scores(learner) == graded.full
        assert graded.record(learner).repairs == ()


def test_repairs_are_few_and_sentences(graded):
    for record in graded.outcome.records:
        assert len(record.repairs) <= 35
        for sentence in record.repairs:
            assert sentence.endswith(".") and len(sentence) < 300, sentence


def test_gradebook_and_records_agree(graded):
    for record in graded.outcome.records:
        held = {name: score for name, (score, _, _) in graded.book(record.learner).items()}
        assert held == {cell.grade_id: cell.score for cell in record.cells}
