"""Truth tables: any way of writing rows, part marks by cell or row, the missing rows named."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import TruthTableQuestion, question_from_table
from coldbench.worksheet.records import plain

INPUTS = {"low request": ["off", "on"], "high request": ["off", "on"]}
OUTPUTS = {"left fan": ["off", "slow", "fast"], "relay 1": ["released", "energised"]}


def question(**changes):
    row = {"id": "fans", "kind": "truth table", "inputs": INPUTS, "outputs": OUTPUTS, **changes}
    return question_from_table(row, lambda key, why: InputError(f"{key}: {why}"))


FANS = question()
ONE = question(outputs={"left fan": ["off", "slow", "fast"]})
KEY = {("off", "off"): ("off", "released"), ("off", "on"): ("off", "released"),
       ("on", "off"): ("slow", "energised"), ("on", "on"): ("fast", "energised")}
RIGHT = {", ".join(row): {"left fan": fan, "relay 1": relay} for row, (fan, relay) in KEY.items()}


def marked(value, key=KEY, asked=FANS, **rules):
    return asked.mark(asked.read(plain(value)), key, **rules)


@pytest.mark.parametrize("value", [
    RIGHT,
    KEY,
    {(a == "on", b == "on"): out for (a, b), out in KEY.items()},
    {(int(a == "on"), int(b == "on")): {"LEFT FAN": fan, "Relay-1": relay == "energised"}
     for (a, b), (fan, relay) in KEY.items()},
    [{"high request": b, "low request": a, "left fan": fan, "relay 1": relay}
     for (a, b), (fan, relay) in reversed(KEY.items())],
    [[a, b, fan, relay] for (a, b), (fan, relay) in KEY.items()],
    [(a == "on", b == "on", fan, relay == "energised") for (a, b), (fan, relay) in KEY.items()],
    {f"({a!r}, {b!r})": list(out) for (a, b), out in KEY.items()},
])
def test_every_way_of_writing_a_table_is_read_alike(value):
    mark = marked(value)
    assert (mark.share, mark.reason) == (1.0, "Right.")


def test_one_output_needs_no_name():
    fans = {", ".join(row): out[0] for row, out in KEY.items()}
    assert marked(fans, fans, ONE).share == 1
    assert marked(fans, {row: {"left fan": word} for row, word in fans.items()}, ONE).share == 1
    assert ONE.read(fans).text == "off, off: off; off, on: off; on, off: slow; on, on: fast"


def test_a_key_may_be_a_function_of_the_inputs():
    def key(low, high):
        return {"left fan": "fast" if (low, high) == ("on", "on") else
                "slow" if low == "on" else "off",
                "relay 1": "energised" if low == "on" else "released"}

    assert marked(RIGHT, key).share == 1


@given(st.permutations(range(8)), st.integers(0, 8))
def test_every_cell_counts_alike_and_rows_count_whole(order, wrong):
    value = {row: dict(cells) for row, cells in RIGHT.items()}
    places = [(row, output) for row in RIGHT for output in OUTPUTS]
    spoilt = [places[i] for i in order[:wrong]]
    for row, output in spoilt:
        words = OUTPUTS[output]
        value[row][output] = words[(words.index(value[row][output]) + 1) % len(words)]
    assert marked(value).share == pytest.approx(1 - wrong / 8)
    assert marked(value, by="row").share == pytest.approx(1 - len({r for r, _ in spoilt}) / 4)


def test_missing_rows_and_cells_are_named_by_the_preview_and_cost_themselves():
    value = dict(RIGHT)
    del value["off, on"]
    value["on, on"] = {"left fan": "fast"}
    read = FANS.read(value)
    assert read.doubt == "still empty: off, on; on, on, relay 1"
    mark = FANS.mark(read, KEY)
    assert mark.share == pytest.approx(5 / 8)
    assert "Empty." in mark.reason


def test_what_cannot_be_read_is_named_and_costs_itself():
    value = {**RIGHT, "on, on": {"left fan": "quick", "relay 1": "energised"}, "maybe, on": {},
             "on": {"left fan": "off"}}
    read = FANS.read(value)
    assert "'quick' is not one of the choices: off; slow; fast" in read.faults["on, on|left fan"]
    assert "'maybe' is not one of the choices" in read.faults["maybe, on"]
    assert "a row is named by 2 words" in read.faults["on"]
    assert FANS.mark(read, KEY).share == pytest.approx(7 / 8)


def test_a_row_that_stands_twice_is_said():
    rows = [{"low request": "off", "high request": "off", "left fan": "off", "relay 1": out}
            for out in ("released", "energised")]
    read = FANS.read(rows)
    assert list(read.faults.values()) != [] and read.value["off, off|relay 1"] == "released"
    twice = FANS.read({"off, off": ["off", "released"], "OFF,OFF": ["slow", "energised"]})
    assert twice.faults == {"OFF,OFF": "this row stands twice"}


def test_mistakes_are_named_by_the_cells_they_touch():
    swapped = {("on", "on"): ("slow", "energised"), ("on", "off"): ("fast", "energised")}
    mark = marked({**KEY, **swapped}, mistakes={
        "took series for parallel": Mistake(swapped, 0.5, "In series the fans share 13 V.")})
    assert mark.mistake == "took series for parallel" and "share 13 V" in mark.reason
    assert mark.share == pytest.approx((6 + 2 * 0.5) / 8)
    by_function = marked({**KEY, **swapped}, mistakes={
        "other": {("on", "on"): ("slow", "released")},
        "swapped": lambda low, high: swapped.get((low, high), KEY[low, high])})
    assert by_function.mistake == "swapped"


@pytest.mark.parametrize(("changes", "why"), [
    ({"inputs": {}}, "inputs must be a table"),
    ({"outputs": ["left"]}, "outputs must be a table"),
    ({"inputs": {"a": ["on"]}}, "inputs.a must be two or more different words"),
    ({"inputs": {"a": ["on", "ON"]}}, "two or more different words"),
    ({"inputs": {"a": ["on", 0]}}, "a list of texts"),
    ({"inputs": {"a,b": ["on", "off"]}}, "without the signs"),
    ({"outputs": {"a": ["on, off", "off"]}}, "without the signs"),
    ({"inputs": {"A": ["on", "off"], "a": ["on", "off"]}}, "different names"),
    ({"outputs": {"Low Request": ["on", "off"]}}, "different names, not 'Low Request'"),
    ({"inputs": {str(n): ["on", "off"] for n in range(7)}}, "128 rows; at most 64"),
    ({"rows": ["a"]}, "unknown for 'fans'"),
])
def test_a_badly_written_question_is_refused_with_key_and_reason(changes, why):
    with pytest.raises(InputError, match=why):
        question(**changes)


def test_a_badly_written_key_is_refused():
    for key in ({("off", "off"): ("off",)}, {"off": "off"}, {}, {("off", "off"): {"fan": "off"}},
                {("off", "off"): ("quick", "released")}):
        with pytest.raises(InputError):
            marked(RIGHT, key)
    with pytest.raises(InputError, match='must be "cell" or "row"'):
        marked(RIGHT, by="column")


ODD = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12),
              st.sampled_from(["off, on", "on, on", "left fan", "low request", "fast"])),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(
        st.one_of(st.text(max_size=8), st.sampled_from(["off, on", "left fan", "low request"])),
        inner, max_size=4)), max_leaves=20)


@given(ODD)
def test_odd_answers_are_refused_with_a_sentence_or_marked(value):
    try:
        answer = FANS.read(plain(value))
    except InputError as error:
        assert str(error)
        return
    mark = FANS.mark(answer, KEY)
    assert 0 <= mark.share <= 1 and len(mark.reason) < 700


def test_the_wanted_form_shows_an_example_that_can_be_read():
    example = eval("{" + FANS.wanted.split("like { ")[1].replace("…", "'off'"))  # noqa: S307
    assert set(FANS.read(plain(example)).cells) == {
        "off, off|left fan", "off, off|relay 1"}
    assert "for each of the 4 combinations of low request, high request" in FANS.wanted
    assert isinstance(FANS, TruthTableQuestion)
    assert FANS.rows == tuple(", ".join(r) for r in itertools.product(("off", "on"), repeat=2))


def test_one_input_and_one_output_are_asked_for_in_plain_words():
    question = TruthTableQuestion.from_table("fans", {
        "inputs": {"moment": ["first", "second"]}, "outputs": {"fans": ["low", "high"]}})
    assert question.wanted == (
        'a table { } with fans (low or high) for each moment, 2 in all, like { "first": "…" }')


def test_a_list_of_words_alone_is_told_to_name_its_rows():
    with pytest.raises(InputError, match=r"^a list does not say which row is which; write a table"):
        ONE.read(["off", "off", "slow", "fast"])
