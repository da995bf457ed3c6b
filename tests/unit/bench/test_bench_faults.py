"""The blue bench's catalogue: complete, numbered, and every fault of it solved and told apart."""

from collections import Counter
from fnmatch import fnmatchcase

import pytest

from coldbench.bench import (
    BenchFault,
    bench_faults,
    catalogue,
    differences,
    load_bench,
    numbered,
    read,
)
from coldbench.errors import InputError

BLUE = load_bench("blue")
ALL = catalogue(BLUE)
STATES = {"hot": ("full cooling", {"ambient_degC": 42.0}), "gentle": ("gentle cooling", {}),
          "off": ("off", {})}
SHARES = 6


def test_four_families_of_at_least_120_faults():
    assert len(ALL) >= 120
    assert set(Counter(one.family for one in ALL)) == {
        "refrigerant", "electrical", "sensor", "control"}


def test_numbers_are_different_and_stay():
    numbers = [one.number for one in ALL]
    assert len(set(numbers)) == len(numbers) and all(1000 <= n <= 9999 for n in numbers)
    assert [one.number for one in catalogue(load_bench("blue"))] == numbers
    assert numbers != sorted(numbers)  # the order tells nothing
    assert numbered(BLUE, numbers[7]) == ALL[7]
    with pytest.raises(InputError, match="no fault number 12"):
        numbered(BLUE, 12)


def test_every_entry_is_a_fault_the_bench_takes():
    for one in ALL:
        assert isinstance(one, BenchFault) and one.description and one.proven_at
        assert bench_faults(BLUE, [one.id]).texts == (one.id,)
        assert 0.0 <= one.severity <= 1.0


def reading(state, faults=()):
    name, changes = STATES[state]
    return read(BLUE, name, faults, set=changes)


@pytest.fixture(scope="module")
def healthy():
    return {state: reading(state) for state in STATES}


def lawful(found):
    """Laws that hold with any fault: mass and energy kept (but for a trip, whose surplus of heat
    is what drives the pressure up), charge in the wiring kept, no fan without current."""
    loop = found.loop
    assert abs(loop.residuals.mass) < 1e-5
    assert abs(loop.residuals.energy) < 1e-5 or "high-pressure trip" in loop.flags
    assert abs(found.electrical.power_balance_W) < 1e-3
    assert loop.high_side_gauge_Pa >= loop.low_side_gauge_Pa - 1.0
    if not loop.running:
        assert loop.compressor_power_W == 0.0
    for fan in BLUE.fans:
        if abs(found.electrical.currents[fan.motor]) < 1e-3:
            assert abs(found.electrical.motors[fan.motor][0]) < 1.0


@pytest.mark.parametrize("share", range(SHARES))
def test_every_fault_comes_to_rest_or_cycles_and_shows_or_says_why_not(healthy, share):
    hidden = BLUE.catalogue.invisible
    for one in ALL[share::SHARES]:
        shown = []
        for state in STATES:
            found = reading(state, [one.id])
            lawful(found)
            shown += differences(healthy[state], found)
        excused = any(fnmatchcase(one.id, pattern) for pattern in hidden)
        assert shown or excused, f"{one.id} shows nowhere, and the file does not say why"


def test_no_reason_is_given_for_a_fault_that_is_not_there():
    for pattern, reason in BLUE.catalogue.invisible.items():
        assert reason and any(fnmatchcase(one.id, pattern) for one in ALL), pattern


def test_several_faults_at_once():
    alone = reading("hot", ["condenser-blocked=0.6"]).values["gauge high"].value
    both = reading("hot", ["condenser-blocked=0.6", "M1:open"]).values["gauge high"].value
    assert both > alone
    with pytest.raises(InputError, match="given twice"):
        read(BLUE, "off", ["M1:open", "M1:open"])


@pytest.mark.parametrize("fault", ["M9:open", "M1:melted", "undercharge=7", "blend_left:lost",
                                   "head:tired", "nonsense", "blend_left:jammed=2"])
def test_faults_that_cannot_be_are_refused_in_a_sentence(fault):
    with pytest.raises(InputError) as refused:
        read(BLUE, "off", [fault])
    assert "\n" not in str(refused.value)
