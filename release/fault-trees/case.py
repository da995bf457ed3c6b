"""A learner's numbers for the lab on fault trees: names, chances, minutes and suspects.

Everything here is a question's wording or a reading; no answer is kept. Chances and minutes come
from `orders.json`, which holds cases whose answers are clear.

Glossary
    suspect   a part that may have failed on your bench; all others were tested and are good
    side      what feeds one of the two fans
"""

import json
from functools import cache
from pathlib import Path

from coldbench.worksheet import Draw, Given

SINGLES = ("clutch fuse blown", "clutch coil open", "clutch relay stuck", "belt torn")
PAIRS = (("supply wire A open", "supply wire B open"), ("ground strap A loose",
         "ground strap B loose"), ("relay contact A burnt", "relay contact B burnt"))
TRIPLES = ("pressure sensor", "coil probe", "cabin probe")
SHARED = ("blower fuse blown", "blower relay stuck", "blower request missing",
          "blower ground loose")
LEFT = ("left motor open", "left plug off", "left brush worn", "left switch open")
RIGHT = ("right motor open", "right plug off", "right brush worn", "right switch open")
SHAPES = ((2, 2), (3, 2), (2, 3))  # causes of the left motor alone, and of the right one alone

SUPPLY = ("battery cable open", "fuse F4 blown")
LOW = ("fuse F1 blown", "relay 1 coil open", "relay 1 contact stays open",
       "relay 2 rest contact open", "fan 1 open", "fan 2 open", "fan ground open",
       "low request missing", "fuse F3 blown")
LOW_OTHERS = ("fuse F2 blown", "relay 2 coil open", "relay 2 work contact open",
              "relay 3 coil open", "relay 3 contact stays open", "high request missing")
FAN_1 = ("fuse F1 blown", "relay 1 coil open", "relay 1 contact stays open",
         "relay 2 coil open", "relay 2 work contact open", "fan 1 open", "low request missing")
FAN_2 = ("fuse F2 blown", "relay 3 coil open", "relay 3 contact stays open", "fan 2 open")
BOTH = ("fuse F3 blown", "high request missing", "fan ground open")
HIGH_OTHERS = ("relay 2 rest contact open",)
HIGH_SHAPES = ((3, 2, 2), (2, 3, 2), (4, 2, 1), (3, 3, 1))  # on the fan 1 side, fan 2 side, both

CHAIN = ("fuse F1 blown", "relay 1 contact open", "fan 1 open", "relay 2 rest contact open",
         "fan 2 open")
CHECKS = ("fuse F1", "relay 1", "fan 1 plug", "ground stud", "low request", "relay 2",
          "battery cable", "fan 2 plug")

WHOLE_BENCH = {
    "both": {"fuse F3 blown": "F3:blown", "fan ground open": "W16:open",
             "main fuse blown": "FM:blown", "ignition switch stays open": "SI:stuck_open"},
    "low": {"fuse F1 blown": "F1:blown", "relay 1 coil open": "K1:coil_open",
            "relay 1 contact stays open": "K1:contacts_open", "low request missing":
            "D1:stuck_off", "fan 1 open": "M1:open"},
    "high": {"fuse F2 blown": "F2:blown", "relay 3 coil open": "K3:coil_open",
             "relay 3 contact stays open": "K3:contacts_open"},
    "changeover": {"relay 2 coil open": "K2:coil_open",
                   "relay 2 work contact open": "K2:contacts_open"},
    "elsewhere": {"clutch fuse F201 blown": "F201:blown", "blower fuse F301 blown": "F301:blown",
                  "climate supply relay coil open": "KA:coil_open"},
    "more": {"fuse F101 blown": "F101:blown", "left blend door jammed":
             "blend_left:jammed", "cool box fuse F401 blown": "F401:blown"},
    "always": {"fan 2 open": "M2:open", "high request missing": "D2:stuck_off"},
}
BENCH_FAULTS = {words: fault for group in WHOLE_BENCH.values() for words, fault in group.items()}


@cache
def orders() -> dict:
    """Chances and minutes with clear answers."""
    return json.loads(Path(__file__).with_name("orders.json").read_text("utf-8"))


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's names and numbers."""
    return [*clutch(draw), *blowers(draw), *fans(draw), *whole(draw), *chain(draw),
            *inspections(draw), *bench(draw)]


def clutch(draw: Draw) -> list[Given]:
    """A tree to read: one cause alone, two together, two of three."""
    triple = draw.choice("clutch triple", TRIPLES)
    single, pair = draw.choice("clutch single", SINGLES), draw.choice("clutch pair", PAIRS)
    three = tuple(f"{triple} {letter} wrong" for letter in "ABC")
    percent = draw.choice("clutch chances", orders()["clutches"])
    label = "clutch: "
    return [
        Given("single_cause", single, label + "one cause alone"),
        Given("pair_causes", pair, label + "two causes"),
        Given("triple_causes", three, label + "three causes"),
        Given("single_percent", percent[0], label + "chance of the one cause", "%"),
        Given("pair_percent", tuple(percent[1:3]), label + "chances of the two", "%"),
        Given("triple_percent", percent[3], label + "chance of each of the three", "%"),
        *(Given(f"case_{letter}", text, f"clutch case {letter}") for letter, text in
          zip("ABCDEF", clutch_cases(draw, single, pair, three), strict=True)),
    ]


def clutch_cases(draw: Draw, single: str, pair: tuple, three: tuple) -> list[str]:
    """Six cases to judge, in an order of your own."""
    (p, q), (x, y, z) = draw.shuffled("clutch two", pair), draw.shuffled("clutch three", three)
    always = [(x, y), (p,), (z,), (p, q)]
    more = draw.shuffled("clutch more", [(p, x), (q, z), (single,), (single, y), (p, y, z)])[:2]
    return [" with ".join(case) for case in draw.shuffled("clutch cases", [*always, *more])]


def blowers(draw: Draw) -> list[Given]:
    """Two blower motors with causes of their own and one they share."""
    left, right = draw.choice("blower shape", SHAPES)
    label = "blowers: "
    return [
        Given("shared_cause", draw.choice("blower shared", SHARED), label + "cause for both"),
        Given("left_causes", tuple(draw.shuffled("blower left", LEFT)[:left]),
              label + "causes for the left motor alone"),
        Given("right_causes", tuple(draw.shuffled("blower right", RIGHT)[:right]),
              label + "causes for the right motor alone"),
    ]


def fans(draw: Draw) -> list[Given]:
    """Suspects on the three-relay bench, for a symptom on low and for one on high."""
    low = [*SUPPLY, *draw.shuffled("low own", LOW)[:5],
           *draw.shuffled("low others", LOW_OTHERS)[:2]]
    one, two, both = draw.choice("high shape", HIGH_SHAPES)
    high = [*draw.shuffled("fan 1 side", FAN_1)[:one], *draw.shuffled("fan 2 side", FAN_2)[:two],
            *draw.shuffled("both sides", BOTH)[:both], *HIGH_OTHERS]
    return [
        Given("low_suspects", tuple(draw.shuffled("low order", low)), "on low: suspects"),
        Given("high_suspects", tuple(draw.shuffled("high order", high)), "on high: suspects"),
    ]


def whole(draw: Draw) -> list[Given]:
    """Suspects on the whole bench, as words and as the bench calls them."""
    counts = {"both": 1, "low": 2, "high": 1, "changeover": 1, "elsewhere": 1, "more": 1,
              "always": 2}
    chosen = [name for group, count in counts.items()
              for name in draw.shuffled(f"whole {group}", list(WHOLE_BENCH[group]))[:count]]
    names = draw.shuffled("whole order", chosen)
    label = "at the bench: "
    return [
        Given("bench_suspects", tuple(names), label + "suspects"),
        Given("bench_faults", tuple(BENCH_FAULTS[name] for name in names),
              label + "what the bench calls them, in the same order"),
    ]


def chain(draw: Draw) -> list[Given]:
    """Four parts in a row, one of them open, and three points between them."""
    found = draw.choice("chain", orders()["chains"])
    start = draw.choice("chain start", (0, 1))
    parts = CHAIN[start:start + 4]
    label = "in a row: "
    return [
        *(Given(f"chain_part_{letter}", part, f"{label}part {letter}")
          for letter, part in zip("ABCD", parts, strict=True)),
        Given("chain_percent", tuple(found["percent"]), label + "chances of A, B, C, D", "%"),
        Given("chain_minutes", tuple(found["minutes"]),
              label + "minutes to measure at point 1, 2, 3", "min"),
    ]


def inspections(draw: Draw) -> list[Given]:
    """Four parts to look at one by one."""
    found = draw.choice("inspections", orders()["inspections"])
    parts = draw.shuffled("inspected parts", CHECKS)[:4]
    label = "one by one: "
    return [
        *(Given(f"check_part_{letter}", part, f"{label}part {letter}")
          for letter, part in zip("ABCD", parts, strict=True)),
        Given("check_percent", tuple(found["percent"]), label + "chances of A, B, C, D", "%"),
        Given("check_minutes", tuple(found["minutes"]), label + "minutes for A, B, C, D", "min"),
    ]


def bench(draw: Draw) -> list[Given]:
    """Minutes as somebody measured them, for when there is no bench today."""
    label = "reading sheet: "
    minutes = tuple(round(draw.grid(f"sheet minutes {i}", low, low + 3, 0.5), 1)
                    for i, low in enumerate((1, 4.5, 8, 12)))
    chances = draw.choice("sheet chances", ((10, 40, 20, 30), (30, 10, 40, 20), (20, 30, 10, 40),
                                            (20, 40, 30, 10)))
    return [
        Given("sheet_minutes", minutes, label + "minutes for A, B, C, D", "min"),
        Given("sheet_percent", chances, label + "chances of A, B, C, D", "%"),
    ]
