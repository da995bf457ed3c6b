"""Laws of conversion."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.quantity import (
    KINDS,
    absolute_from_gauge,
    from_si,
    gauge_from_absolute,
    parse,
    to_si,
)

KIND_AND_UNIT = st.sampled_from([(k, u) for k, kind in KINDS.items() for u in kind.units])
ATMOSPHERES_PA = st.floats(22e3, 128e3)


@given(KIND_AND_UNIT, st.floats(0.0, 1e4))
def test_to_si_and_back(kind_and_unit, value):
    kind, unit = kind_and_unit
    back = from_si(to_si(value, unit.name, kind), unit.name, kind)
    assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(KIND_AND_UNIT, st.floats(0.0, 1e4), st.data())
def test_every_spelling_means_the_same(kind_and_unit, value, data):
    kind, unit = kind_and_unit
    spelling = data.draw(st.sampled_from(unit.spellings))
    expected = to_si(value, unit.name, kind)
    assert parse(f"{value!r} {spelling}", kind) == expected
    if not spelling[0].isdigit():
        assert parse(f"{value!r}{spelling}", kind) == expected


@given(st.floats(-500, 500), st.sampled_from(KINDS["temperature difference"].units))
def test_a_difference_never_picks_up_an_offset(value, unit):
    kind = "temperature difference"
    assert to_si(0.0, unit.name, kind) == 0.0
    assert to_si(2 * value, unit.name, kind) == pytest.approx(2 * to_si(value, unit.name, kind))


@given(st.floats(0.0, 5e6), ATMOSPHERES_PA)
def test_gauge_and_back(absolute_Pa, atmosphere_Pa):
    gauge_Pa = gauge_from_absolute(absolute_Pa, atmosphere_Pa)
    assert absolute_from_gauge(gauge_Pa, atmosphere_Pa) == pytest.approx(absolute_Pa, abs=1e-6)


@given(st.floats(-1e6, 1e6), ATMOSPHERES_PA)
def test_below_full_vacuum_is_refused(gauge_Pa, atmosphere_Pa):
    assume(gauge_Pa < -atmosphere_Pa)
    with pytest.raises(InputError, match="below full vacuum"):
        absolute_from_gauge(gauge_Pa, atmosphere_Pa)


@pytest.mark.parametrize("atmosphere_Pa", [0.0, -1.0, float("nan"), float("inf"), None])
def test_an_impossible_atmosphere_is_refused(atmosphere_Pa):
    with pytest.raises(InputError, match="atmospheric pressure"):
        absolute_from_gauge(1e5, atmosphere_Pa)
    with pytest.raises(InputError, match="atmospheric pressure"):
        gauge_from_absolute(1e5, atmosphere_Pa)


@given(st.text(max_size=30), st.sampled_from(sorted(KINDS)))
def test_any_text_gives_a_number_or_one_sentence(text, kind):
    try:
        value = parse(text, kind)
    except InputError as error:
        assert str(error)
    else:
        assert isinstance(value, float) and value - value == 0.0


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_lone_comma_before_three_digits_is_never_guessed(whole, thousandth):
    with pytest.raises(InputError, match="could mean"):
        parse(f"{whole},{thousandth:03d} m", "length")


@given(st.integers(0, 99999), st.sampled_from(["5", "25", "0625"]))
def test_a_decimal_comma_is_read_where_only_one_meaning_exists(whole, decimals):
    assert parse(f"{whole},{decimals} m", "length") == float(f"{whole}.{decimals}")
