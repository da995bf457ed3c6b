"""The kinds of parts a circuit file may use: terminals, parameters, inputs and fault modes.

Relay terminals follow DIN 72552: 30 common, 87 make, 87a break, 86 coil feed, 85 coil ground
side. Ranges only keep nonsense out; typical values stand in the circuit files.
"""

from coldbench.electrical.kind_model import (
    OPEN,
    VALUE,
    Kind,
    Mode,
    Parameter,
    ohm,
    opened,
    raised,
)

_DIODE = {
    # A silicon diode: 0.85 V at 1 A, slope of 1.8 thermal voltages (common practice).
    "forward_V": Parameter("V", 0.85, 0.1, 5.0),
    "slope_V": Parameter("V", 0.0465, 0.02, 0.2),
}
_SUPPRESSION = {
    "suppression": Parameter("", "none", choices=("none", "resistor", "diode")),
    "suppression_ohm": ohm(680.0, 1.0),
    "fitted": Parameter("", 1.0, internal=True),
    **_DIODE,
}
_COIL_SHORTED = Mode("coil", "coil shorted to {value} ohm", sets={"coil_ohm": VALUE, "pull": 0.0},
                     value=0.5, unit="ohm", least=1e-3, most=50.0)

_KINDS = (
    Kind("source", "battery or charging system", ("plus", "minus"), {
        "emf_V": Parameter("V", None, 0.1, 60.0),
        "resistance_ohm": ohm(0.01),
    }, {
        "weak": Mode("supply", "weak supply: {value} V behind ten times the resistance",
                     sets={"emf_V": VALUE}, scales={"resistance_ohm": 10.0},
                     value=10.5, unit="V", least=0.1, most=60.0),
    }),
    Kind("fuse", "blade fuse", ("a", "b"), {
        "rating_A": Parameter("A", None, 0.1, 500.0),
        "resistance_ohm": ohm(0.003),
    }, {
        "blown": opened("resistance_ohm", "fuse blown", "fuse"),
        "high_resistance": raised("resistance_ohm", "fuse contact burnt to {value} ohm", 0.5),
    }),
    Kind("switch", "switch", ("a", "b"), {
        "resistance_ohm": ohm(0.005),
        "stuck": Parameter("", "", choices=("", "open", "closed"), internal=True),
    }, {
        "stuck_open": Mode("switch", "switch does not close", sets={"stuck": "open"}),
        "stuck_closed": Mode("switch", "switch does not open", sets={"stuck": "closed"}),
        "high_resistance": raised("resistance_ohm", "switch contact burnt to {value} ohm", 1.0),
    }, input="switch"),
    Kind("relay", "changeover relay", ("30", "87", "87a", "85", "86"), {
        "coil_ohm": ohm(None, 1.0, 1e4),
        "operate_V": Parameter("V", 7.2, 0.1, 60.0),
        "release_V": Parameter("V", 1.8, 0.01, 60.0),
        "contact_ohm": ohm(0.003),
        "coil_henry": Parameter("H", 0.3, 0.0, 100.0),
        **_SUPPRESSION,
        "make_ohm": ohm(0.0, 0.0, internal=True),
        "break_ohm": ohm(0.0, 0.0, internal=True),
        "pull": Parameter("", 1.0, internal=True),
        "welded": Parameter("", 0.0, internal=True),
    }, {
        "missing": Mode("open", "relay not in its socket", sets={
            "coil_ohm": OPEN, "fitted": 0.0, "make_ohm": OPEN, "break_ohm": OPEN}),
        "coil_open": opened("coil_ohm", "coil open", "coil"),
        "coil_shorted": _COIL_SHORTED,
        "contacts_burnt": raised("make_ohm", "make contact (30–87) burnt to {value} ohm", 1.0,
                                 "contacts"),
        "contacts_open": opened("make_ohm", "make contact (30–87) never closes", "contacts"),
        "contacts_welded": Mode("contacts", "contacts welded in the operated position (30–87)",
                                sets={"welded": 1.0}),
        "break_contact_burnt": raised("break_ohm", "break contact (30–87a) burnt to {value} ohm",
                                      1.0, "contacts"),
        "break_contact_open": opened("break_ohm", "break contact (30–87a) never closes",
                                     "contacts"),
    }, spare=("87", "87a")),
    Kind("diode", "diode", ("a", "k"), {
        **_DIODE,
        "path_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "open": opened("path_ohm", "diode open"),
        "shorted": raised("path_ohm", "diode shorted to {value} ohm", 0.05, "short"),
    }),
    Kind("resistor", "resistor", ("a", "b"), {
        "resistance_ohm": ohm(),
    }, {
        "open": opened("resistance_ohm", "resistor open"),
        "changed": raised("resistance_ohm", "resistor changed to {value} ohm", 1000.0, "value"),
    }),
    Kind("lamp", "filament lamp", ("a", "b"), {
        "rated_V": Parameter("V", 12.0, 1.0, 60.0),
        "rated_W": Parameter("W", None, 0.1, 500.0),
        "cold_share": Parameter("", 0.1, 0.01, 0.9),
        "path_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "open": opened("path_ohm", "filament open"),
    }),
    Kind("motor", "permanent-magnet motor", ("plus", "minus"), {
        "winding_ohm": ohm(None, 1e-3, 1e4),
        "k_V_s": Parameter("V s/rad", None, 1e-5, 10.0),
        "friction_N_m": Parameter("N m", None, 0.0, 100.0),
        "viscous_N_m_s": Parameter("N m s/rad", 1e-5, 0.0, 1.0),
        "drag_N_m_s2": Parameter("N m s²/rad²", 0.0, 0.0, 1.0),
        "inertia_kg_m2": Parameter("kg m²", 1e-3, 1e-9, 10.0),
        "inductance_H": Parameter("H", 1e-4, 0.0, 1.0),
        "turns": Parameter("", 1.0, internal=True),
        "path_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "stalled": Mode("motor", "motor stalled: it cannot turn", sets={"turns": 0.0}),
        "open": opened("path_ohm", "motor open (brush or winding)", "motor"),
        "worn": Mode("motor", "worn bearings: friction {value} times the usual",
                     scales={"friction_N_m": VALUE, "viscous_N_m_s": VALUE},
                     value=3.0, unit="times", least=1.0, most=100.0),
        "high_resistance": Mode("motor", "worn brushes: winding path of {value} ohm",
                                sets={"winding_ohm": VALUE}, value=1.0, unit="ohm", least=1e-3),
    }),
    Kind("low_side_driver", "low-side driver", ("out", "ground"), {
        "on_ohm": ohm(0.08),
        "leakage_ohm": ohm(10e6, 1e3),
        "stuck": Parameter("", "", choices=("", "open", "closed"), internal=True),
    }, {
        "stuck_off": Mode("driver", "driver never switches on", sets={"stuck": "open"}),
        "stuck_on": Mode("driver", "driver never switches off", sets={"stuck": "closed"}),
        "high_resistance": raised("on_ohm", "driver switches on through {value} ohm only", 100.0,
                                  "driver"),
    }, input="switch"),
    Kind("pwm_driver", "pulse-width driver", ("supply", "ground", "out"), {
        "on_ohm": ohm(0.03),
        "frequency_Hz": Parameter("Hz", 400.0, 1.0, 1e6),
        "stuck": Parameter("", "", choices=("", "off", "full"), internal=True),
    }, {
        "stuck_off": Mode("driver", "driver gives nothing", sets={"stuck": "off"}),
        "stuck_full": Mode("driver", "driver always fully on", sets={"stuck": "full"}),
    }, input="duty"),
    Kind("coil", "coil (clutch or valve)", ("a", "b"), {
        "coil_ohm": ohm(None, 0.1, 1e5),
        "coil_henry": Parameter("H", 0.05, 0.0, 100.0),
        **_SUPPRESSION,
        "pull": Parameter("", 1.0, internal=True),
    }, {
        "open": opened("coil_ohm", "coil open", "coil"),
        "shorted": _COIL_SHORTED,
        "high_resistance": raised("coil_ohm", "coil circuit of {value} ohm", 20.0),
    }),
    Kind("logic_input", "input of a control unit", ("pin", "ground"), {
        "reference_V": Parameter("V", 5.0, 0.0, 60.0),
        "pull_up_ohm": ohm(10e3, 1.0),
        "input_ohm": ohm(1e6, 1.0),
    }, {
        "pull_up_open": opened("pull_up_ohm", "pull-up inside the control unit open"),
    }),
    Kind("reference", "regulated reference", ("out", "ground"), {
        "emf_V": Parameter("V", 5.0, 0.1, 60.0),
        "resistance_ohm": ohm(0.1),
        "source_A": Parameter("A", 0.2, 1e-4, 100.0),
        "sink_A": Parameter("A", 0.01, 1e-6, 100.0),
        "path_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "low": Mode("supply", "reference gives {value} V", sets={"emf_V": VALUE}, value=4.5,
                    unit="V", least=0.1, most=60.0),
        "dead": Mode("supply", "reference gives nothing", sets={"path_ohm": OPEN}),
    }),
    Kind("variable_resistor", "resistive sensor", ("a", "b"), {
        "resistance_ohm": ohm(),
    }, {
        "open": opened("resistance_ohm", "sensor open", "sensor"),
        "shorted": raised("resistance_ohm", "sensor shorted to {value} ohm", 0.5, "sensor"),
        "shifted": Mode("sensor", "sensor resistance {value} times the true one",
                        scales={"resistance_ohm": VALUE}, value=1.3, unit="times", least=1e-3,
                        most=1e3),
    }),
    Kind("ratio_output", "ratiometric sensor", ("supply", "ground", "signal"), {
        "ratio": Parameter("", 0.1, 0.0, 1.0),
        "output_ohm": ohm(100.0),
        "supply_ohm": ohm(1000.0),
        "offset": Parameter("", 0.0, -1.0, 1.0, internal=True),
    }, {
        "output_open": opened("output_ohm", "sensor output open", "sensor"),
        "shifted": Mode("sensor", "sensor output shifted by {value} of its supply",
                        sets={"offset": VALUE}, value=0.05, unit="of supply", least=-1.0,
                        most=1.0),
    }),
    Kind("current_source", "light sensor", ("a", "b"), {
        "current_A": Parameter("A", 0.0, 0.0, 10.0),
        "shunt_ohm": ohm(10e6, 1.0),
        "forward_V": Parameter("V", 0.85, 0.1, 5.0),
        "slope_V": Parameter("V", 0.0465, 0.02, 0.2),
        "path_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "open": opened("path_ohm", "sensor open", "sensor"),
        "shorted": raised("path_ohm", "sensor shorted to {value} ohm", 0.5, "sensor"),
    }),
    Kind("potentiometer", "position sensor", ("a", "wiper", "b"), {
        "track_ohm": ohm(None, 1.0),
        "wiper_ohm": ohm(50.0),
        "position": Parameter("", 0.5, 0.0, 1.0),
        "end_ohm": ohm(1.0, 1e-3),
        "break_ohm": ohm(0.0, 0.0, internal=True),
    }, {
        "track_open": opened("break_ohm", "track broken at end a", "sensor"),
        "wiper_open": opened("wiper_ohm", "wiper lifted off the track", "sensor"),
        "wiper_worn": raised("wiper_ohm", "wiper contact of {value} ohm", 5000.0, "sensor"),
    }),
)
KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}

WIRE_MODES: dict[str, Mode] = {
    "open": Mode("open", "wire open"),
    "high_resistance": Mode("high resistance", "wire or joint with {value} ohm added", value=2.5,
                            unit="ohm", least=1e-4),
    "corroded": Mode("ground", "corroded ground joint with {value} ohm added", value=0.5,
                     unit="ohm", least=1e-4),
    "short_to_ground": Mode("short to ground", "far end touches ground through {value} ohm",
                            value=0.02, unit="ohm", least=1e-3),
    "short_to_supply": Mode("short to supply", "far end touches the supply through {value} ohm",
                            value=0.02, unit="ohm", least=1e-3),
    "chafed": Mode("leak", "chafed: leaks {value} Mohm to ground", value=1.0, unit="Mohm",
                   least=1e-3),
    "crossed": Mode("crossed", "far end crossed with that of {value}", unit="wire"),
}
