"""The shipped chart lines are those that `chart_data` computes, and damage is told."""

import io
import subprocess
import sys

import numpy as np
import pytest

from coldbench.errors import InputError
from coldbench.refrigerant import FLUIDS
from coldbench.refrigerant.chart_data import chart_data
from coldbench.refrigerant.chart_files import read_chart, stored_chart, write_chart

QUANTITIES = ("pressure_Pa", "enthalpy_J_kg", "temperature_K", "entropy_J_kgK")


@pytest.mark.parametrize("name", FLUIDS)
def test_the_shipped_lines_are_the_computed_ones(name):
    # Where this fails after a change of `chart_data`: python -m coldbench.refrigerant.chart_files
    stored, computed = stored_chart(name), chart_data(name)
    for family in ("isotherms", "isobars", "quality_lines", "isentropes"):
        lines = getattr(stored, family), getattr(computed, family)
        assert [line.value for line in lines[0]] == [line.value for line in lines[1]]
        for pair in zip(*lines, strict=True):
            same(*pair)
    same(stored.bubble, computed.bubble)
    same(stored.dew, computed.dew)
    assert stored.pressure_range_Pa == computed.pressure_range_Pa
    assert stored.temperature_range_K == computed.temperature_range_K


def same(a, b):
    """Two lines agree within single precision."""
    for quantity in QUANTITIES:
        np.testing.assert_allclose(getattr(a, quantity), getattr(b, quantity), rtol=2e-7)


def test_a_chart_does_not_load_the_equation_of_state():
    code = ("import sys; from coldbench.refrigerant.chart_files import stored_chart; "
            "stored_chart('R134a'); sys.exit('CoolProp' in sys.modules)")
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def written() -> bytes:
    """A file of chart lines."""
    stream = io.BytesIO()
    write_chart(stored_chart("R134a"), stream)
    return stream.getvalue()


def test_a_changed_number_is_noticed():
    with np.load(io.BytesIO(written())) as held:
        arrays = {key: held[key] for key in held}
    arrays["rows"] = arrays["rows"].copy()
    arrays["rows"][7, 1] += 10.0
    stream = io.BytesIO()
    np.savez_compressed(stream, **arrays)
    stream.seek(0)
    with pytest.raises(InputError, match="R134a.npz: chart table does not match its stamp"):
        read_chart(stream, "R134a.npz")


@pytest.mark.parametrize("kept", [0, 100, 5000])
def test_a_cut_file_is_noticed(kept):
    with pytest.raises(InputError, match="R134a.npz: damaged chart table"):
        read_chart(io.BytesIO(written()[:kept]), "R134a.npz")


def test_an_unknown_fluid_is_one_sentence():
    with pytest.raises(InputError, match="no refrigerant 'R1'"):
        stored_chart("R1")
