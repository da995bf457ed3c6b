"""Assigning sealed benches: pools, fair trios, what is written and what is refused."""

import json
import os
import random
import stat
from pathlib import Path
from types import SimpleNamespace

import pytest

from coldbench.bench import load_bench
from coldbench.diagnosis.from_bench import plain_problem, stored_problem
from coldbench.errors import InputError
from coldbench.grading.assign import assign, refuse_handed_in
from coldbench.grading.assign_draw import Drawing, trios_of
from coldbench.grading.assign_pool import chosen_pool, narrowed, pool_from, read_pool
from coldbench.grading.course import Course
from coldbench.grading.gate import desk_names
from coldbench.grading.lab import Lab
from coldbench.worksheet.bench_keys import ASSIGNED, DeskKeys, read_keys

LAB = "whole-bench-diagnosis"
SOURCE = Path(__file__).parents[2] / "source" / LAB
SMALL = {
    "bench": "blue", "states": ["full cooling", "off"], "least_suspects": 3, "least_minutes": 0,
    "complaints": ["warm air at every vent"], "suspects": ["KC:coil_open", "CL:shorted"],
    "families": {"refrigerant": ["txv-inlet-blocked"], "electrical": ["CL:open"],
                 "sensor": ["PT401:output_open"]}}


def toml(table):
    lines = [f"{key} = {json.dumps(value)}" for key, value in table.items() if key != "families"]
    rows = [f"{key} = {json.dumps(value)}" for key, value in table["families"].items()]
    return "\n".join([*lines, "[families]", *rows, ""])


@pytest.fixture(scope="module")
def course(tmp_path_factory):
    root = tmp_path_factory.mktemp("course")
    folder = root / "source" / LAB
    folder.mkdir(parents=True)
    for name in ("lab.toml", "pool.toml"):
        (folder / name).write_bytes((SOURCE / name).read_bytes())
    (folder / "small.toml").write_text(toml(SMALL))
    return Course(root)


@pytest.fixture(scope="module")
def made(course):
    said = []
    old, os.environ["COLDBENCH_CACHE"] = os.environ.get("COLDBENCH_CACHE"), str(course.root)
    try:
        pool = str(course.source / LAB / "small.toml")
        return assign(course, LAB, pool, 7, 3, say=said.append, workers=1), said
    finally:
        os.environ.pop("COLDBENCH_CACHE")
        if old is not None:
            os.environ["COLDBENCH_CACHE"] = old


def test_three_families_are_sealed_under_opaque_numbers(made):
    found, said = made
    assert {one.family for one in found.benches.values()} == set(SMALL["families"])
    assert all(len(number) == 4 and number.isdigit() for number in found.benches)
    assert found.trios and all(len(set(trio)) == 3 for trio in found.trios)
    assert "seed 7" in found.words and "3 sealed benches" in found.words and said


def test_what_learners_get_names_no_cause(course, made):
    folder = course.source / LAB
    public = (folder / "benches" / "assigned.json").read_text("utf-8")
    for key in made[0].benches.values():
        assert (folder / key.file).is_file()
        assert key.fault not in public and key.part not in public
    lab = Lab(LAB, folder, "practice", None, None)
    names = {path.name for path in lab.companions()}
    assert "assigned.json" in names and "pool.toml" not in names
    assert not {one for one in names if one.startswith("__")}


@pytest.mark.skipif(os.name == "nt", reason="no such rights of files there")
def test_the_keys_are_for_their_owner_alone(course, made):
    for name in ASSIGNED:
        assert stat.S_IMODE((course.source / LAB / name).stat().st_mode) == 0o600


def test_the_keys_can_be_read_and_marked_with(course, made):
    keys, desk = read_keys(course.source / LAB, ASSIGNED), DeskKeys(course.source / LAB)
    assert keys.seed == 7 and dict(keys.benches) == dict(made[0].benches)
    for number, key in keys.benches.items():
        of = desk.complained(number).problem
        assert of.complaint.name == key.complaint and key.fault in of.problem.faults
        assert of.parts[key.fault] == key.part and of.verifies


def test_the_same_seed_draws_the_same(course, made):
    pool = pool_from(SMALL)
    table = course.root
    before, os.environ["COLDBENCH_CACHE"] = os.environ.get("COLDBENCH_CACHE"), str(table)
    try:
        drawn = [[one.fault.id for one in Drawing(load_bench("blue"), pool, seed,
                                                  workers=1).draw()] for seed in (7, 7)]
    finally:
        os.environ.pop("COLDBENCH_CACHE")
        if before is not None:
            os.environ["COLDBENCH_CACHE"] = before
    assert drawn[0] == drawn[1] == [one.fault for one in made[0].benches.values()]


def test_work_that_was_handed_in_is_not_made_worthless(course, made):
    folder = course.submitted / "ml-07" / LAB
    folder.mkdir(parents=True)
    with pytest.raises(InputError, match="handed in by ml-07; .*--force"):
        refuse_handed_in(course, LAB)
    with pytest.raises(InputError, match="--force"):
        assign(course, LAB, seed=8)
    folder.rmdir()
    refuse_handed_in(course, LAB)


def test_a_stored_problem_of_another_bench_is_refused(course, made):
    problem = DeskKeys(course.source / LAB).complained(next(iter(made[0].benches))).problem
    plain = plain_problem(problem)
    with pytest.raises(InputError, match="assign the benches again"):
        stored_problem(load_bench("quay"), plain)
    with pytest.raises(InputError, match="ZZ:open"):
        stored_problem(load_bench("blue"), plain | {"faults": ["ZZ:open"]})


def drawn(*rows):
    return [SimpleNamespace(family=family, walk=SimpleNamespace(minutes=minutes))
            for family, minutes in rows]


def test_trios_are_of_three_families_and_alike_in_difficulty():
    faults = drawn(("a", 2.0), ("b", 4.0), ("c", 6.0), ("a", 20.0), ("b", 5.0), ("c", 7.0))
    trios = trios_of(faults, random.Random(1))
    assert trios and all(len({faults[n].family for n in trio}) == 3 for trio in trios)
    sums = [sum(faults[n].walk.minutes for n in trio) for trio in trios]
    assert max(sums) / min(sums) < 2.2
    assert all(list(trio) == sorted(trio, key=lambda n: faults[n].walk.minutes) for trio in trios)
    with pytest.raises(InputError, match="2 families only"):
        trios_of(drawn(("a", 1.0), ("b", 1.0), ("a", 2.0)), random.Random(1))


def test_there_are_two_trios_for_each_bench_and_every_bench_is_used_alike():
    faults = drawn(*((family, 30.0 + k) for k in range(4) for family in "abc"))
    trios = trios_of(faults, random.Random(1))
    assert len(trios) == len(set(trios)) == 24
    uses = [sum(n in trio for trio in trios) for n in range(len(faults))]
    assert min(uses) >= 4 and max(uses) <= 8


@pytest.mark.parametrize(("change", "words"), [
    ({"benches": 3}, "benches: unknown key"),
    ({"families": {"a": ["F1:blown"], "b": ["K1:coil_open"]}}, "3 or more families"),
    ({"families": {"a": ["F1:blown"], "b": [], "c": ["x"]}}, r"families\.b: must be a list"),
    ({"least_suspects": 1}, "least_suspects: must be a whole number from 2 to 100"),
    ({"bench": 7}, "bench: must be the name"),
    ({"least_minutes": -1}, "least_minutes: must be a number from 0 to 60"),
    ({"states": "off"}, "states: must be a list of texts"),
])
def test_a_pool_that_cannot_be_used_is_refused_in_a_sentence(change, words):
    with pytest.raises(InputError, match=words):
        pool_from(SMALL | change)


def test_patterns_that_fit_nothing_are_named():
    pool = pool_from(SMALL | {"families": {"a": ["F1:*"], "b": ["K1:*"], "c": ["ZZ*"]}})
    with pytest.raises(InputError, match=r"c: 'ZZ\*' fits no fault of blue"):
        pool.faults(load_bench("blue"))


def test_families_and_patterns_narrow_the_labs_own_pool():
    own = read_pool(SOURCE / "pool.toml")
    assert list(narrowed(own, ["sensor", "control", "txv-*"]).families) == [
        "refrigerant", "sensor", "control"]
    with pytest.raises(InputError, match="--pool leaves 1 families"):
        chosen_pool("sensor", SOURCE / "pool.toml")
    for word in ("sensors", "/a/folder"):
        with pytest.raises(InputError, match=f"'{word}' is no family of the lab's pool"):
            chosen_pool(f"sensor,control,{word}", SOURCE / "pool.toml")
    with pytest.raises(InputError, match=r"none\.toml cannot be read"):
        chosen_pool("none.toml", SOURCE / "pool.toml")


def test_a_pool_file_may_begin_with_a_byte_order_mark_but_must_be_text(tmp_path):
    (tmp_path / "marked.toml").write_bytes(b"\xef\xbb\xbf" + toml(SMALL).encode())
    assert read_pool(tmp_path / "marked.toml") == pool_from(SMALL)
    (tmp_path / "odd.toml").write_bytes(b"\x80\x81")
    with pytest.raises(InputError, match=r"odd\.toml is not text in UTF-8"):
        read_pool(tmp_path / "odd.toml")


def test_the_labs_own_pools_fit_the_bench():
    blue = load_bench("blue")
    for name in ("pool.toml", "__demo_pool__.toml"):
        faults = read_pool(SOURCE / name).faults(blue)
        assert len(faults) >= 3 and all(faults.values())


def test_a_lab_without_a_pool_has_nothing_to_assign(course):
    (course.source / LAB / "pool.toml").rename(course.source / LAB / "away")
    try:
        with pytest.raises(InputError, match="has no pool.toml"):
            assign(course, LAB)
    finally:
        (course.source / LAB / "away").rename(course.source / LAB / "pool.toml")
    with pytest.raises(InputError, match="accepted are 3 to 60"):
        assign(course, LAB, benches=2)


def test_what_only_the_desk_knows_fails_in_a_sentence(course):
    lab = Lab(LAB, course.source / LAB, "practice", None, None)
    assert desk_names(lab, "ml-07") == {}
    (lab.folder / "__reference__.py").write_text("def names(folder, course, learner):\n"
                                                 "    return {'WHO': learner}\n")
    assert desk_names(lab, "ml-07") == {"WHO": "ml-07"}
    (lab.folder / "__reference__.py").write_text("raise KeyError('no key')\n")
    with pytest.raises(InputError, match="__reference__.py: KeyError"):
        desk_names(lab, "ml-07")
