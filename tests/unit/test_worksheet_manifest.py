"""`lab.toml`: whatever is wrong in it, one sentence names file, key and reason."""

import copy
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import read_manifest
from coldbench.worksheet.manifest import manifest_from_table

VALID = {
    "title": "Fans", "order": 2, "hours": 1.5, "reveal": "at once", "bench": "blue bench",
    "lab": "fans", "course": "autumn", "objectives": ["see"], "competencies": ["do"],
    "prerequisites": ["know"], "equipment": ["meter"],
    "question": [
        {"id": "current", "kind": "quantity", "quantity": "current", "unit": "A",
         "plausible": ["0 A", "40 A"]},
        {"id": "relay", "kind": "choice", "choices": ["one", "two"], "several": True},
        {"id": "steps", "kind": "ordered list", "items": ["a", "b"], "all_items": False},
        {"id": "table", "kind": "table", "rows": ["A", "B"],
         "columns": {"volts": {"quantity": "voltage", "unit": "V"}}},
    ],
}


def places(node, path=()):
    """Every path into the table."""
    yield path
    if isinstance(node, (dict, list)):
        for key in (node if isinstance(node, dict) else range(len(node))):
            yield from places(node[key], (*path, key))


def changed(path, value):
    table = copy.deepcopy(VALID)
    node = table
    for key in path[:-1]:
        node = node[key]
    if value is DELETED:
        del node[path[-1]]
    else:
        node[path[-1]] = value
    return table


DELETED = object()
PATHS = [path for path in places(VALID) if path]
VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(), st.floats(), st.text(max_size=6), st.just(DELETED),
              st.sampled_from(["quantity", "choice", "K", "5 K", "", "ratio"])),
    lambda inner: st.one_of(st.lists(inner, max_size=3),
                            st.dictionaries(st.text(max_size=6), inner, max_size=3)),
    max_leaves=5)


def without_deleted(value):
    if isinstance(value, list):
        return [without_deleted(item) for item in value if item is not DELETED]
    if isinstance(value, dict):
        return {k: without_deleted(v) for k, v in value.items() if v is not DELETED}
    return value


def test_the_valid_table_is_accepted():
    manifest = manifest_from_table(copy.deepcopy(VALID), "folder")
    assert manifest.lab == "fans" and list(manifest.questions) == ["current", "relay", "steps",
                                                                   "table"]
    assert manifest.question("relay").several is True
    assert manifest.question("steps").all_items is False


def test_checking_leaves_the_table_as_it_is():
    table = copy.deepcopy(VALID)
    manifest_from_table(table, "folder")
    assert table == VALID


@given(st.sampled_from(PATHS), VALUES)
def test_any_change_is_accepted_or_refused_with_file_and_key(path, value):
    value = value if value is DELETED else without_deleted(value)
    try:
        manifest = manifest_from_table(changed(path, value), "fans")
    except InputError as error:
        assert str(error).startswith("fans/lab.toml: ") and "\n" not in str(error)
    else:
        for question in manifest.questions.values():
            assert question.wanted


@given(st.sampled_from([path for path in PATHS if isinstance(path[-1], str)]), VALUES)
def test_an_unknown_key_is_always_refused(path, value):
    value = None if value is DELETED else without_deleted(value)
    if path[:2] == ("question", 3) and path[-1] == "volts":
        return  # a column may have any name
    with pytest.raises(InputError, match="unknown"):
        manifest_from_table(changed((*path[:-1], "no_such_key"), value), "fans")


@pytest.mark.parametrize(("path", "value", "reason"), [
    (("title",), DELETED, "title: missing"), (("title",), 5, "title: must be text"),
    (("title",), " ", "title: must be text"), (("order",), True, "order: must be a whole number"),
    (("order",), 1.5, "order: must be a whole"), (("hours",), "two", "hours: must be a number"),
    (("hours",), 0, "hours: must be"), (("hours",), float("nan"), "hours: must be"),
    (("objectives",), "see", "objectives: must be a list"), (("equipment",), 5, "equipment: must"),
    (("reveal",), "maybe", "reveal: must be one of never"), (("bench",), [], "bench: must be text"),
    (("question",), {"id": "x"}, r"question: must be written as tables \[\[question\]\]"),
    (("question", 0), 5, "question.id: missing"), (("question", 0, "id"), "", "question.id: miss"),
    (("question", 1, "id"), "current", "question.id: 'current' stands twice"),
    (("question", 0, "kind"), "number", "question.kind: 'number' of 'current' is not one of"),
    (("question", 0, "kind"), [], "question.kind"),
    (("question", 0, "colour"), 1, "question.colour"),
    (("question", 0, "quantity"), "warmth", "question.current: quantity 'warmth' is not one of"),
    (("question", 0, "quantity"), {}, "question.current: quantity must be text"),
    (("question", 0, "unit"), "kPa", "question.current: 'kPa' is not a unit"),
    (("question", 0, "unit"), 0, "question.current: unit must be text"),
    (("question", 0, "plausible"), ["0 A"], r"question.current: plausible must be \[low, high\]"),
    (("question", 0, "plausible"), ["4 A", "0 A"], "plausible must be"),
    (("question", 0, "plausible"), "0 A", "plausible must be a list"),
    (("question", 1, "choices"), "one", "question.relay: choices must be a list of texts"),
    (("question", 1, "choices"), ["one", 2], "choices must be a list of texts"),
    (("question", 1, "choices"), ["one", "ONE"], "choices must be two or more different texts"),
    (("question", 1, "several"), "yes", "question.relay: several must be true or false"),
    (("question", 2, "items"), ["a"], "question.steps: items must be two or more"),
    (("question", 3, "rows"), "AB", "question.table: rows must be a list"),
    (("question", 3, "rows"), ["A", "a"], "rows must have different names"),
    (("question", 3, "rows"), ["A|B"], "rows must have different names without the sign"),
    (("question", 3, "columns"), {}, "question.table: columns must be a table"),
    (("question", 3, "columns", "volts"), "V", "column 'volts' must be a table"),
    (("question", 3, "columns", "volts", "colour"), 1,
     "column 'volts' has an unknown key 'colour'"),
    (("question", 3, "columns", "volts", "unit"), "A", "column 'volts': 'A' is not a unit"),
])
def test_the_reason_is_to_the_point(path, value, reason):
    with pytest.raises(InputError, match=f"fans/lab.toml: .*{reason}|fans/lab.toml: {reason}"):
        manifest_from_table(changed(path, value), "fans")


@pytest.mark.parametrize(("content", "reason"), [
    (None, "is not a lab folder: it holds no lab.toml"), (b"title = ", "not valid TOML"),
    (b"\xff\xfe", "not valid TOML"), (b"x = " + b"[" * 5000, "not valid TOML"),
    (b"", "title: missing"), (b"title = 1979-05-27\norder=1\nhours=1", "title: must be text")])
def test_a_file_that_cannot_be_used_is_told_in_a_sentence(tmp_path, content, reason):
    if content is not None:
        (tmp_path / "lab.toml").write_bytes(content)
    with pytest.raises(InputError, match=reason):
        read_manifest(tmp_path)


def test_a_folder_in_place_of_the_file(tmp_path):
    (tmp_path / "lab.toml").mkdir()
    with pytest.raises(InputError, match="cannot be read"):
        read_manifest(tmp_path)


def test_an_unknown_question_lists_the_names_and_the_nearest():
    manifest = manifest_from_table(copy.deepcopy(VALID), "fans")
    with pytest.raises(InputError, match="did you mean 'current'; its questions are current"):
        manifest.question("curent")
    for name in (5, None, [], {}, "x" * 10_000):
        with pytest.raises(InputError, match="its questions are current, relay, steps, table"):
            manifest.question(name)


@pytest.mark.parametrize("lab", sorted((Path(__file__).parents[2] / "source").glob("*/lab.toml")),
                         ids=lambda path: path.parent.name)
def test_the_labs_of_the_kit_are_accepted(lab):
    assert read_manifest(lab.parent).questions
