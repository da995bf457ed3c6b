"""A learner's numbers for the lab on automatic control: what the head is told, and sealed benches.

No answer is kept; every answer is worked out with the head's own rules and its calibration.

Glossary
    region   a stretch of values between thresholds; a path goes through regions, so that each
             learner meets the same number of values at which the past decides
"""

from coldbench.worksheet import Draw, Given

# Mean required temperature [°C] between the thresholds 18, 22, 30 and 34.
AIR = {"A": (12.0, 17.5), "B": (18.5, 21.5), "C": (22.5, 29.5), "D": (30.5, 33.5),
       "E": (34.5, 40.0)}
AIR_PATHS = ("ABCBABED", "CBABEDCD", "AEDCBABC", "EDBABCDE", "BEDABEDC")
# High side [kPa] below, between and above the thresholds 1,200 and 1,600.
FAN = {"L": (950, 1180), "M": (1220, 1580), "H": (1620, 2100)}
FAN_PATHS = ("MHMLMHML", "LMHMLMHM", "MLHMMLMH", "HMLMHMLM", "MHMMLMLH")
# What may stop the compressor: place in a note, and the values that stop it when it was off.
STOPS = {
    "head": (0, (0.0, 0.0)), "drive": (1, (510.0, 590.0)), "supply": (2, (10.2, 10.9)),
    "ambient": (3, (1.5, 3.5)), "coolant": (4, (111.0, 116.0)),
    "low pressure": (5, (165.0, 225.0)), "high pressure": (5, (2350.0, 2750.0)),
    "freeze": (6, (2.3, 3.7)), "pause": (7, (1.0, 7.0)),
}
ORDER = tuple(STOPS)
STEPS = (1.0, 10.0, 0.1, 0.5, 1.0, 5.0, 0.1, 1.0)


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's numbers."""
    return [*balance(draw), *doors_and_blower(draw), *sequences(draw), *notes(draw),
            *cycling(draw), *feedback(draw), *sealed(draw)]


def balance(draw: Draw) -> list[Given]:
    """One zone's heat balance, and a cloud."""
    left_C = draw.grid("set left", 20.0, 24.0, 0.5)
    dim = draw.grid("dim", 60, 140, 5)
    return [
        Given("set_left_C", left_C, "balance: set point, left", "°C", digits=1),
        Given("set_right_C", left_C + draw.choice("set right", (-2.5, -1.5, 1.5, 2.5)),
              "balance: set point, right", "°C", digits=1),
        Given("cabin_C", left_C + draw.choice("cabin", (2.0, 3.5, 4.0)),
              "balance: cabin", "°C", digits=1),
        Given("ambient_C", draw.grid("ambient", 29.0, 36.0, 0.5),
              "balance: outside", "°C", digits=1),
        Given("sun_left_W_m2", draw.grid("sun", 220, 600, 10), "balance: sun on the left",
              "W/m²"),
        Given("cloud_side", draw.choice("cloud side", ("left", "right")),
              "cloud: side that it shades"),
        Given("sun_before_W_m2", dim + draw.grid("cloud", 320, 640, 10),
              "cloud: sun on that side before", "W/m²"),
        Given("sun_after_W_m2", dim, "cloud: sun on that side after", "W/m²"),
    ]


def doors_and_blower(draw: Draw) -> list[Given]:
    """From a required temperature to the blend door and the blower."""
    cold_C = draw.grid("wanted cold", -12.0, -7.0, 0.5)
    zones = draw.shuffled("zones", (cold_C, cold_C + draw.grid("milder by", 4, 6, 0.5)))
    return [
        Given("blend_required_C", draw.grid("blend required", 13.0, 26.0, 0.5),
              "blend door: required temperature", "°C", digits=1),
        Given("blend_coil_C", draw.grid("blend coil", 3.5, 7.0, 0.5),
              "blend door: air behind the evaporator", "°C", digits=1),
        Given("blend_coolant_C", draw.grid("blend coolant", 80, 92, 1),
              "blend door: coolant", "°C"),
        Given("wanted_left_C", zones[0], "blower, cooling: left wants", "°C", digits=1),
        Given("wanted_right_C", zones[1], "blower, cooling: right wants", "°C", digits=1),
        Given("heating_coolant_C", draw.grid("heating coolant", 35, 47, 0.5),
              "blower, heating: coolant", "°C", digits=1),
    ]


def sequences(draw: Draw) -> list[Given]:
    """Eight required temperatures and eight pressures, one after the other."""
    air = draw.choice("air path", AIR_PATHS)
    fan = draw.choice("fan path", FAN_PATHS)
    return [
        Given("mean_required_C", tuple(draw.grid(f"air {n}", *AIR[r], 0.5)
                                       for n, r in enumerate(air)),
              "air: mean required temperature, first to eighth moment", "°C", digits=1),
        Given("high_side_kPa", tuple(draw.grid(f"fan {n}", *FAN[r], 20)
                                     for n, r in enumerate(fan)),
              "fans: high side, first to eighth moment", "kPa"),
    ]


def notes(draw: Draw) -> list[Given]:
    """Five notes of the workshop: what the head believes while the compressor is off."""
    stops = draw.shuffled("stops", ORDER)[:5]
    return [Given(f"note_{letter}", _note(draw, letter, link, number < 3),
                  f"note {letter}: in the order of question 7")
            for number, (letter, link) in enumerate(zip("ABCDE", stops, strict=True))]


def _note(draw: Draw, letter: str, link: str, another: bool) -> tuple[float, ...]:
    """Values of one note: one link stops, and in some notes another one behind it."""
    values = [draw.grid(f"{letter} blower", 35, 90, 5), draw.grid(f"{letter} speed", 800, 2400, 50),
              draw.grid(f"{letter} supply", 13.2, 14.4, 0.1),
              draw.grid(f"{letter} outside", 18, 34, 0.5),
              draw.grid(f"{letter} coolant", 82, 98, 1),
              draw.grid(f"{letter} high side", 600, 1500, 10),
              draw.grid(f"{letter} evaporator", 5.0, 12.0, 0.1),
              draw.grid(f"{letter} off", 12, 90, 1)]
    stopping = [link]
    if another and link not in ("freeze", "pause"):
        stopping.append(draw.choice(f"{letter} another", ("freeze", "pause")))
    for name in stopping:
        place, (low, high) = STOPS[name]
        values[place] = draw.grid(f"{letter} {name}", low, high, STEPS[place]) if high else 0.0
    return tuple(values)


def cycling(draw: Draw) -> list[Given]:
    """Times of a compressor that freeze protection switches."""
    return [
        Given("on_s", draw.grid("on", 24, 60, 1), "cycling: compressor on for", "s"),
        Given("off_s", draw.grid("off", 9, 19, 1), "cycling: compressor off for", "s"),
    ]


def feedback(draw: Draw) -> list[Given]:
    """A door's feedback at both end stops, and now."""
    return [
        Given("closed_V", draw.grid("closed", 0.60, 0.90, 0.01),
              "feedback: at the closed stop", "V", digits=2),
        Given("open_V", draw.grid("open", 4.30, 4.60, 0.01),
              "feedback: at the open stop", "V", digits=2),
        Given("now_V", draw.grid("now", 1.35, 1.80, 0.01), "feedback: now", "V", digits=2),
        Given("target_share", draw.grid("target", 0.15, 0.33, 0.01),
              "feedback: next target, share of the travel", "", digits=2),
    ]


def sealed(draw: Draw) -> list[Given]:
    """Serial numbers of three sealed benches (one door jams, one lever is off), and a fourth."""
    kinds = draw.shuffled("door faults", (1, 2, draw.choice("third door", (0, 3))))
    return [*(Given(f"bench_{letter}_serial",
                    int(100 * (10 + 4 * draw.grid(f"{letter} row", 0, 9, 1) + kind)
                        + draw.grid(f"{letter} size", 40, 85, 1)),
                    f"bench {letter}: serial number")
              for letter, kind in zip("PQR", kinds, strict=True)),
            Given("bench_S_serial", int(100 * (60 + draw.choice("relay", (0, 1)))
                                        + draw.grid("clogged", 90, 95, 1)),
                  "bench S: serial number"),
            Given("bench_S_ambient_C", draw.grid("S ambient", 31.0, 35.0, 0.5),
                  "bench S: outside", "°C", digits=1)]
