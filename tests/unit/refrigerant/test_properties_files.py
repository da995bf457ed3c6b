"""Shipped property tables: a damaged file is refused with its name and the reason."""

import io
import json
from importlib import resources

import numpy as np
import pytest

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import LOOP_FLUIDS, contents
from coldbench.refrigerant.fingerprint import fingerprint
from coldbench.refrigerant.property_files import load_property_tables, read_property_tables

FOLDER = resources.files("coldbench.refrigerant").joinpath("property_tables")


def shipped(name: str = "R134a") -> dict:
    """The parts of a shipped file."""
    with FOLDER.joinpath(f"{name}.npz").open("rb") as stream, np.load(stream) as arrays:
        return {key: arrays[key] for key in arrays.files}


def read(parts: dict):
    """Write parts to a file and read it."""
    stream = io.BytesIO()
    np.savez(stream, **parts)
    stream.seek(0)
    return read_property_tables(stream, "R1.npz")


def stamped(parts: dict, **changes) -> dict:
    """Parts with a stamp that fits them."""
    stamp = {**json.loads(str(parts["stamp"])), **changes, "contents": contents(parts)}
    return {**parts, "stamp": json.dumps({**stamp, "fingerprint": fingerprint(stamp)})}


def test_a_sound_file_is_read():
    assert read(shipped()).stamp["fluid"] == "R134a"
    assert read(stamped(shipped())).start < 9.0


def test_one_changed_number_is_noticed():
    parts = shipped()
    parts["vapour"][0, 5, 5, 0] *= 1.001
    with pytest.raises(InputError, match="R1.npz: contents do not match the fingerprint"):
        read(parts)


def test_a_changed_stamp_is_noticed():
    parts = shipped()
    stamp = json.loads(str(parts["stamp"]))
    with pytest.raises(InputError, match="do not match the fingerprint"):
        read({**parts, "stamp": json.dumps({**stamp, "step": 0.04})})


@pytest.mark.parametrize("key", ["stamp", "vapour", "liquid"])
def test_a_missing_part_is_noticed(key):
    parts = shipped()
    del parts[key]
    with pytest.raises(InputError, match="R1.npz: damaged"):
        read(parts)


@pytest.mark.parametrize(("value", "words"), [(np.nan, "steadily"), (1e9, "steadily")])
def test_numbers_that_cannot_be_are_noticed(value, words):
    parts = shipped()
    parts["liquid"][0, 5, 5, 0] = value
    with pytest.raises(InputError, match=words):
        read(stamped(parts))


def test_a_wrong_shape_is_noticed():
    parts = shipped()
    parts["liquid"] = parts["liquid"][:2]
    with pytest.raises(InputError, match="liquid has the wrong shape"):
        read(stamped(parts))


def test_a_file_that_is_cut_off_is_noticed():
    whole = FOLDER.joinpath("R134a.npz").read_bytes()
    with pytest.raises(InputError, match="R1.npz: damaged"):
        read_property_tables(io.BytesIO(whole[: len(whole) // 2]), "R1.npz")


def test_a_missing_file_is_named():
    with pytest.raises(InputError, match="no property table R22.npz"):
        load_property_tables("R22")


@pytest.mark.parametrize("name", LOOP_FLUIDS)
def test_tables_stay_small(name):
    assert len(FOLDER.joinpath(f"{name}.npz").read_bytes()) < 600_000
