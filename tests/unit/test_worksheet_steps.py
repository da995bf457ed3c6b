"""Steps: any good order earns all; an unsafe step earns nothing; chance earns hardly anything."""

from itertools import permutations
from statistics import fmean

import pytest

from coldbench.errors import InputError
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import question_from_table
from coldbench.worksheet.kinds.steps import StepsQuestion

ITEMS = ("switch off", "pull the fuse", "take the reading", "put the fuse back", "tidy up",
         "bridge the fuse", "wash the van")
OPEN = StepsQuestion("open", ITEMS)
PAIRS = [("switch off", "pull the fuse"),
         ("pull the fuse", "take the reading", "A live circuit spoils it."),
         ("take the reading", "put the fuse back")]
GOOD = list(ITEMS[:4])
UNSAFE = {"bridge the fuse": "The wire burns before anything else opens."}


def marked(value, key=PAIRS, asked=OPEN, **rules):
    return asked.mark(asked.read(value), key, **rules)


def test_every_order_that_keeps_the_pairs_is_right():
    right = {order for order in permutations([*GOOD, "tidy up"])
             if marked(list(order), needed=[*GOOD, "tidy up"]).share == 1}
    assert right == {order for order in permutations([*GOOD, "tidy up"])
                     if [step for step in order if step != "tidy up"] == GOOD}
    assert len(right) == 5


def test_a_plain_list_is_the_only_order():
    assert marked(GOOD, GOOD).share == 1
    assert marked(GOOD[::-1], GOOD).share == 0
    assert marked(["switch off", "take the reading", "pull the fuse", "put the fuse back"],
                  GOOD).share == pytest.approx(2 * 2 / 3 - 1)


def test_a_step_too_early_is_named_with_its_reason():
    mark = marked(["switch off", "take the reading", "pull the fuse", "put the fuse back"])
    assert mark.mistake == "step too early" and mark.status == "partly"
    assert mark.reason == "'take the reading' comes too early. A live circuit spoils it."


def test_an_unsafe_step_loses_everything_and_says_why():
    mark = marked([*GOOD, "bridge the fuse"], unsafe=UNSAFE)
    assert (mark.share, mark.mistake) == (0, "unsafe step")
    assert "'bridge the fuse' must not be done here. The wire burns" in mark.reason
    assert marked([*GOOD, "bridge the fuse"], unsafe=["bridge the fuse"]).share == 0
    assert marked([*GOOD, "bridge the fuse"]).share == pytest.approx(3 / 4)


def test_missing_and_needless_steps_cost_their_part():
    mark = marked(GOOD[:3])
    assert mark.reason == "1 step is missing."
    assert mark.share == pytest.approx(3 / 4 * (2 * 2 / 3 - 1))
    mark = marked([*GOOD, "wash the van"])
    assert mark.share == pytest.approx(3 / 4) and "Not needed here: wash the van." in mark.reason
    assert marked([]).share == 0
    assert marked(["tidy up"], [("switch off", "tidy up")], needed=["tidy up"]).share == 1


def test_chance_earns_hardly_anything():
    shares = [marked(list(order), needed=GOOD).share for order in permutations(GOOD)]
    assert fmean(shares) < 0.25
    assert shares.count(1.0) == 1


def test_foreseen_mistakes_come_first():
    mark = marked(GOOD[::-1], mistakes={"backwards": Mistake(GOOD[::-1], 0.1, "Turn it round.")})
    assert (mark.share, mark.mistake) == (0.1, "backwards")


@pytest.mark.parametrize("key", [
    [], "switch off", [("switch off",)], [("switch off", "no such step")], [1, 2],
    [("switch off", "pull the fuse"), ("pull the fuse", "switch off")],
    [("switch off", "switch off")], ["no such step"]])
def test_a_key_that_makes_no_sense_is_refused(key):
    with pytest.raises(InputError):
        marked(GOOD, key)


def test_the_form_is_that_of_a_list_without_doubles():
    for value, why in ((["switch off"] * 2, "stands twice"), ("switch off", "not a list"),
                       (["dance"], "not one of the choices")):
        with pytest.raises(InputError, match=why):
            OPEN.read(value)
    row = {"id": "open", "kind": "steps", "items": list(ITEMS), "all_items": True}
    asked = question_from_table(row, lambda key, why: InputError(why))
    with pytest.raises(InputError, match="still to place"):
        asked.read(GOOD)


def test_an_empty_list_is_kept_but_asked_about():
    assert OPEN.read([]).doubt and not OPEN.read(GOOD).doubt
