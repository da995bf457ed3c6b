"""The guides to bench files: made from the rules, and every piece in them works as told."""

import re
import tomllib
from importlib import resources
from pathlib import Path

import jsonschema
import pytest

from coldbench.bench import parse_bench, schema_file, shipped_benches
from coldbench.bench.build import KEYS
from coldbench.bench.describe import described, part_entries, top
from coldbench.bench.reference_page import PAGE, reference_page
from coldbench.bench.schema_file import bench_schema, schema_text
from coldbench.electrical.kinds import KINDS
from coldbench.electrical.loader import _POINT_KEYS, _WIRE_KEYS
from coldbench.errors import InputError

FOLDER = Path(str(resources.files("coldbench.bench").joinpath("data")))
GUIDE = PAGE.with_name("describe-your-own-bench.md").read_text("utf-8")
QUAY_TEXT = (FOLDER / "quay.toml").read_text("utf-8")
QUAY = tomllib.loads(QUAY_TEXT)
VALIDATOR = jsonschema.Draft202012Validator(bench_schema())


def told(text, name="quay.toml"):
    with pytest.raises(InputError) as refused:
        parse_bench(text, name, FOLDER)
    return refused.value.mistakes


def changed(before, after):
    assert QUAY_TEXT.count(before) >= 1
    return QUAY_TEXT.replace(before, after, 1)


def test_schema_file_is_current():
    shipped = resources.files("coldbench.bench").joinpath("schema", schema_file.FILE)
    assert shipped.read_text("utf-8") == schema_text(), "python -m coldbench.bench.schema_file"
    jsonschema.Draft202012Validator.check_schema(bench_schema())


def test_reference_page_is_current():
    assert PAGE.read_text("utf-8") == reference_page(), "python -m coldbench.bench.reference_page"


@pytest.mark.parametrize("name", [*shipped_benches(), "template"])
def test_shipped_files_satisfy_the_schema(name):
    tables = tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))
    assert [error.message for error in VALIDATOR.iter_errors(tables)] == []


@pytest.mark.parametrize(("before", "after"), [
    ("fluid = \"R152a\"", "fluid = \"R12\""), ("share = 1.0", "share = 1.1"),
    ("engage_A = 2.1", "engage = 2.1"), ("bits = 12", "bits = 2"),
    ("kind = \"switch\"", "kind = \"swich\""), ("size_mm2 = 6.0", "size_mm2 = 7.0"),
    ("leave_out = [\"oscilloscope\"", "leave_out = [\"crystal ball\""),
    ("comparison = \"above\"", "comparison = \"over\""), ("[heater]", "[header]"),
    ("ambient_degC = 33.0", "ambient_degC = 133.0"), ("low_code = \"B1103\"", "low_code = 3"),
])
def test_reader_and_schema_refuse_the_same(before, after):
    text = changed(before, after)
    assert told(text)
    assert not VALIDATOR.is_valid(tomllib.loads(text))


def test_every_key_of_the_reader_is_described():
    assert {one.name for one in described()} | {one.key for one in top()} == {*KEYS, "like"}
    tables = {one.name: {entry.key for entry in one.entries} for one in described()}
    assert tables["wire"] == _WIRE_KEYS and tables["test_point"] == _POINT_KEYS
    for name, kind in KINDS.items():
        assert [one.key for one in part_entries(name)] == [
            key for key, one in kind.parameters.items() if not one.internal]
    page = reference_page()
    for table in described():
        assert all(f"| `{entry.key}` |" in page for entry in table.entries)
        assert all(entry.meaning for entry in table.entries)


def pieces(language):
    return re.findall(rf"```{language}\n(.*?)```", GUIDE, flags=re.DOTALL)


def within(part, whole):
    """Whether all that a piece says stands in the whole file too."""
    if isinstance(part, dict):
        return isinstance(whole, dict) and all(
            key in whole and within(value, whole[key]) for key, value in part.items())
    if isinstance(part, list) and part and isinstance(part[0], dict):
        return all(any(within(one, other) for other in whole) for one in part)
    return part == whole


def test_each_step_of_the_guide_parses_and_stands_in_the_quay_bench():
    steps = pieces("toml")
    assert len(steps) >= 12
    text = ""
    for step in steps:
        assert within(tomllib.loads(step), QUAY), step
        text += step + "\n"
    assert tomllib.loads(steps[0])["name"] == "quay"


def test_a_piece_that_is_not_in_the_file_would_be_found():
    assert not within({"loop": {"fluid": "R134a"}}, QUAY)
    assert not within({"fan": [{"motor": "M9"}]}, QUAY)


def test_the_guide_tells_what_the_check_says():
    said = {
        "lacks": told(pieces("toml")[0]),
        "dangling": told(changed('to = "S11"', 'to = "S1l"')),
        "unit is missing": told(changed(', value = 10.0, unit = "%"', ", value = 10.0")),
        "M7": told(changed('"M1:worn"', '"M7:worn"')),
    }
    checked = 0
    for block in pieces("text"):
        for line in block.strip().splitlines():
            for key, found in said.items():
                if key in line:
                    assert any(one.startswith(line) for one in found), line
                    checked += 1
    assert checked == 6


def test_the_guide_tells_of_a_calibration_that_crosses_itself(tmp_path):
    head = resources.files("coldbench.control").joinpath("data", "one_zone_head.toml")
    text = head.read_text("utf-8").replace("freeze = { on_degC = 4.0, off_degC = 2.0 }",
                                           "freeze = { on_degC = 2.0, off_degC = 4.0 }")
    (tmp_path / "our_head.toml").write_text(text, "utf-8")
    bench = QUAY_TEXT.replace('calibration = "one_zone_head"', 'calibration = "our_head.toml"')
    with pytest.raises(InputError) as refused:
        parse_bench(bench, "quay.toml", tmp_path)
    assert str(refused.value) in GUIDE


def test_pieces_out_of_the_template_parse_too():
    text = (FOLDER / "template.toml").read_text("utf-8")
    found = re.findall(r"^# (\[.*\]|[\w\".:*]+ = .*)$", text, flags=re.MULTILINE)
    kept = [line for line in found if not line.startswith("[blower],")]
    assert len(kept) > 20 and tomllib.loads("\n".join(kept))
