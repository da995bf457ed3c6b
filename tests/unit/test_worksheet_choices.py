"""Choices and ordered lists: what counts as the same word, what guessing earns."""

from itertools import chain, combinations, permutations
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import ChoiceQuestion, OrderedQuestion

COLUMN = ChoiceQuestion("column", choices=("bubble point", "dew point"))
LOOP = ("compressor", "condenser", "receiver-drier", "TXV", "evaporator", "hose")


def subsets(items):
    return chain.from_iterable(combinations(items, n) for n in range(len(items) + 1))


@pytest.mark.parametrize("text", ["dew point", "Dew  Point", "DEW-POINT", " dewpoint\n",
                                  "dew_point"])
def test_case_blanks_and_dashes_do_not_matter(text):
    assert COLUMN.read(text).value == "dew point"


@pytest.mark.parametrize("value", ["dew", "", 3, True, ["dew point", "bubble point"], {},
                                   "x" * 9999])
def test_what_is_no_choice_is_refused_with_the_choices(value):
    with pytest.raises(InputError, match="bubble point; dew point"):
        COLUMN.read(value)


def test_signs_and_decimal_points_of_numbers_do_matter():
    asked = ChoiceQuestion("t", choices=("−10 °C", "10 °C", "1.0 °C"))
    assert [asked.read(text).value for text in ("-10 °C", "10°C", "1.0 C", "10 C", "−10C")] == [
        "−10 °C", "10 °C", "1.0 °C", "10 °C", "−10 °C"]
    less = ChoiceQuestion("t", choices=("p < 5", "p > 5"))
    assert less.read("P  < 5").value == "p < 5"
    with pytest.raises(InputError):
        less.read("p 5")


def test_a_choice_is_right_or_a_named_mistake_or_wrong():
    def mark(text, **rules):
        return COLUMN.mark(COLUMN.read(text), "dew point", **rules)
    assert mark("dew point").share == 1 and mark("bubble point").share == 0
    named = mark("bubble point", mistakes={"mixed up": Mistake("bubble point", 0.2)})
    assert (named.mistake, named.share) == ("mixed up", 0.2)
    assert mark("dew point", mistakes={"same": "dew point"}).share == 1
    assert mark("bubble point", mistakes={"none": None}).mistake == ""


@pytest.mark.parametrize("size", [2, 3, 4, 5, 6])
def test_choosing_all_or_nothing_earns_nothing_and_chance_little(size):
    choices = tuple("abcdef"[:size])
    asked = ChoiceQuestion("s", choices=choices, several=True)
    for key in subsets(choices):
        shares = {picked: asked.mark(asked.read(list(picked)), list(key)).share
                  for picked in subsets(choices)}
        assert shares[key] == 1 and max(v for p, v in shares.items() if p != key) < 1
        for guess in (choices, ()):
            assert guess == key or shares[guess] == 0
        assert min(shares.values()) >= 0
        if 0 < len(key) < size and size >= 4:
            assert fmean(shares.values()) < 0.26


def test_several_choices_take_any_kind_of_list():
    asked = ChoiceQuestion("s", choices=("a", "b", "c"), several=True)
    assert asked.mark(asked.read(["b", "a", "a"]), ("a", "b")).share == 1
    assert asked.mark(asked.read("a"), ["a"]).share == 1
    assert asked.mark(asked.read([]), []).share == 1
    half = asked.mark(asked.read(["a"]), {"a", "b"})
    assert (half.share, half.status) == (0.5, "partly")


@pytest.mark.parametrize("size", [2, 3, 4, 5, 6])
def test_a_reversed_list_earns_nothing_and_chance_little(size):
    items = LOOP[:size]
    asked = OrderedQuestion("o", items=items)
    shares = [asked.mark(asked.read(list(order)), items).share for order in permutations(items)]
    assert shares[0] == 1 and shares[-1] == 0 and shares.count(1) == 1
    # exact means over all orders: 1/2, 1/6, 1/6, 3/40, 0.0725
    assert fmean(shares) == pytest.approx({2: 1 / 2, 3: 1 / 6, 4: 1 / 6, 5: 0.075,
                                           6: 0.0725}[size], abs=1e-4)


def test_two_neighbours_exchanged_earn_part():
    asked = OrderedQuestion("o", items=LOOP)
    swapped = [LOOP[1], LOOP[0], *LOOP[2:]]
    mark = asked.mark(asked.read(swapped), LOOP)
    assert mark.status == "partly" and mark.share == pytest.approx(0.6)


def test_items_that_do_not_belong_cost():
    asked = OrderedQuestion("o", items=LOOP, all_items=False)
    key = LOOP[:5]
    assert asked.mark(asked.read(list(key)), key).share == 1
    assert asked.mark(asked.read(list(LOOP)), key).share < 1
    assert asked.mark(asked.read([]), key).share == 0
    assert asked.mark(asked.read([LOOP[0]]), key).share == 0


@pytest.mark.parametrize(("value", "reason"), [
    ("compressor", "is not a list"), (5, "is not a list"), ({}, "is not a list"),
    (["compressor"], "still to place: condenser"), ([*LOOP[:5], "TXV"], "'TXV' stands twice"),
    ([*LOOP[:5], "pump"], "'pump' is not one of"), ([*LOOP[:5], None], "is not one of"),
    ([*LOOP[:5], []], "is not one of")])
def test_a_list_that_cannot_be_read_is_refused_with_the_reason(value, reason):
    with pytest.raises(InputError, match=reason):
        OrderedQuestion("o", items=LOOP).read(value)


def test_a_foreseen_order_is_named():
    asked = OrderedQuestion("o", items=LOOP[:3])
    backwards = {"went against the flow": Mistake(LOOP[2::-1], 0.25)}
    mark = asked.mark(asked.read(list(LOOP[2::-1])), LOOP[:3], mistakes=backwards)
    assert (mark.mistake, mark.share) == ("went against the flow", 0.25)


@given(st.permutations(LOOP), st.permutations(LOOP))
def test_shares_of_orders_stay_within_all_and_nothing(order, key):
    asked = OrderedQuestion("o", items=LOOP)
    assert 0 <= asked.mark(asked.read(list(order)), key).share <= 1


def test_several_choices_in_one_text_stand_between_commas():
    asked = ChoiceQuestion("s", choices=("a", "b", "c, d"), several=True)
    assert asked.read("a, B").value == ["a", "b"]
    assert asked.read("c, d").value == ["c, d"]
    with pytest.raises(InputError, match="'x' is not one of the choices"):
        asked.read("a, x")
