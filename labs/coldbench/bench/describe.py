"""Every table of a bench file and its keys, as the reader knows them.

From here come the JSON Schema (`schema_file`) and the reference page (`reference_page`).
"""

from dataclasses import fields
from typing import Any, NamedTuple

from coldbench.bench import build, rules
from coldbench.bench import tables as t
from coldbench.electrical.conductors import conductor_table
from coldbench.electrical.kinds import KINDS
from coldbench.sensing.control_inputs import CONVERTER_FIELDS, INPUT_FIELDS, SUBSTITUTES
from coldbench.sensing.schema import REQUIRED, Field
from coldbench.sensing.sensors import sensor_fields

NEEDED = object()
"""Default of an entry that must be given."""
ID = {"type": "string", "pattern": "^[A-Za-z][A-Za-z0-9_]*$"}
_PLACE = {"type": "array", "minItems": 2, "maxItems": 2,
          "items": {"type": "integer", "minimum": 0, "maximum": 500}}
TEXT = {"type": "string", "minLength": 1}
WORDS_OF_FIELDS = {
    "bits": "bits of the converter", "reference": "terminal of the reference it compares with",
    "ground": "terminal of its ground", "reference_low_V": "below this no input is used",
    "reference_high_V": "above this no input is used",
    "fail_s": "how long outside until it counts as failed",
    "heal_s": "how long inside until it counts as sound again",
    "reference_low_code": "code for a reference below", "reference_high_code": "and above",
    "name": "name of the input", "label": "what it is",
    "sensor": "a sensor of the list, or of this file", "part": "part of the wiring that it is",
    "signal": "terminal where the head measures",
    "pull_up": "resistor from reference to signal, for kinds that need one",
    "low_ratio": "least share of the reference that is believed",
    "high_ratio": "greatest share of the reference that is believed",
    "low_code": "code below that share", "high_code": "code above that share",
    "substitute_degC": "used instead when it fails, for a temperature",
    "substitute_kPa": "the same, for a gauge pressure",
    "substitute_W_m2": "the same, for sun load", "substitute_position": "the same, for a door",
    "kind": "kind of sensor", "source": "where its figures come from", "form": "form of the curve",
    "dissipation_mW_K": "heat that warms it by 1 K where it is built in",
}
"""Key of a sensor, converter or input → what it means; further keys say it themselves."""


class Entry(NamedTuple):
    """One key: what it accepts as JSON Schema, its unit, default and meaning."""

    key: str
    schema: dict
    unit: str
    default: Any
    meaning: str


class Table(NamedTuple):
    """One table of the file: how it is headed, what it is for, its entries.

    many: "" for one table, "list" for [[name]], "named" for [name.<yours>]; needed: whether a
    file that is not `like` another must have it.
    """

    name: str
    about: str
    entries: tuple[Entry, ...]
    many: str = ""
    needed: bool = False


def described() -> tuple[Table, ...]:
    """Return every table of a bench file, in the order of the guide [tuple of Table].

    Examples
    --------
    >>> [table.name for table in described()][:3]
    ['circuit', 'wiring', 'loop']
    """
    single = {**build.ONE, **build.PERHAPS, **build.USUAL}
    kinds = {"circuit": ("list", build.LISTS["circuit"][0]),
             **{key: ("", kind) for key, kind in single.items()},
             "fan": ("list", build.LISTS["fan"][0]), "state": ("named", build.NAMED["state"][0]),
             "symptom": ("named", build.NAMED["symptom"][0]),
             "fault": ("list", build.LISTS["fault"][0])}
    return (*(Table(key, _first_line(kind), entries_of(kind), many, key in build.NEEDED)
              for key, (many, kind) in kinds.items()),
            Table("part", "A part of the bench's own, beside those of its circuits.", _part(),
                  "list"),
            Table("wire", "A wire of the bench's own.", _wire(), "list"),
            Table("test_point", "A numbered place for a meter lead.", _test_point(), "list"),
            Table("converter", "The head's converter; left out with `inputs = \"shipped\"`.",
                  _of_fields(CONVERTER_FIELDS)),
            Table("input", "One sensor input of the head.", _of_fields(
                INPUT_FIELDS | {key: Field(float, default="-") for key, *_ in
                                SUBSTITUTES.values()}), "list"),
            Table("sensor", "A sensor that the shipped list does not have.", _sensor(), "named"))


def top() -> tuple[Entry, ...]:
    """Return the keys above all tables [tuple of Entry]."""
    words = {"enum": list(t.REQUESTS)}
    return (Entry("name", TEXT, "", NEEDED, "the file's name without .toml"),
            Entry("title", TEXT, "", NEEDED, "what a person calls it"),
            Entry("about", TEXT, "", "", "one line: what it has"),
            Entry("like", TEXT, "", "", "a shipped bench: what this file does not say is taken "
                  "from there, key by key; lists are replaced whole"),
            Entry("inputs", {"const": "shipped"}, "", "", "the shipped list of sensor inputs, "
                  "for benches with the circuit sensor-splice"),
            Entry("layout", {"type": "object", "additionalProperties": _PLACE}, "", "",
                  "places on the wiring diagram; a part left out finds its own"),
            Entry("requests", {"type": "object", "additionalProperties": words}, "", NEEDED,
                  "input of the wiring = what drives it"))


def _first_line(kind: type) -> str:
    return kind.__doc__.strip().splitlines()[0]


def entries_of(kind: type) -> tuple[Entry, ...]:
    """Return the entries of a dataclass whose fields carry rules [tuple of Entry]."""
    found, usual = [], rules.defaults(kind)
    for f in fields(kind):
        rule = f.metadata["rule"]
        key = rule.key(f.name)
        found.append(Entry(key, rule.schema(), _unit(rule), usual.get(key, NEEDED),
                           f.metadata["meaning"]))
    return tuple(found)


def _unit(rule: Any) -> str:
    for inner in ("otherwise", "each"):
        if getattr(rule, inner, None) is not None:
            return _unit(getattr(rule, inner))
    return getattr(rule, "unit", "")


def _of_fields(table: dict[str, Field]) -> tuple[Entry, ...]:
    return tuple(Entry(key, _field_schema(field), "",
                       NEEDED if field.default is REQUIRED else field.default,
                       WORDS_OF_FIELDS.get(key, "")) for key, field in table.items())


def _field_schema(field: Field) -> dict:
    if field.kind is str:
        return {"type": "string"}
    limits = {word: value for word, value in (("minimum", field.lowest), ("maximum", field.highest))
              if abs(value) != float("inf")}
    if field.kind is list:
        return {"type": "array", "minItems": 1, "items": {"type": "number", **limits}}
    return {"type": "integer" if field.kind is int else "number", **limits}


def _sensor() -> tuple[Entry, ...]:
    """Keys of all kinds of sensor; which of them a kind has, the reader says."""
    kinds = sensor_fields()
    common = set.intersection(*(set(table) for table in kinds.values()))
    found: dict[str, Entry] = {"kind": Entry("kind", {"enum": list(dict.fromkeys(
        name.split(",")[0] for name in kinds))}, "", NEEDED, WORDS_OF_FIELDS["kind"])}
    for name, table in kinds.items():
        for one in _of_fields(table):
            if one.key == "kind":
                continue
            shared = one.key in common
            before = found.get(one.key)
            words = before.meaning if before else one.meaning or f"for {name}"
            found[one.key] = one._replace(default=NEEDED if shared else "-", meaning=words)
    return tuple(found.values())


def _wire() -> tuple[Entry, ...]:
    sizes = {"enum": list(conductor_table())}
    return (Entry("id", ID, "", NEEDED, "a letter, then letters, digits or _"),
            Entry("circuit", {"type": "integer"}, "", "", "circuit number on the diagram"),
            Entry("from", TEXT, "", NEEDED, "a terminal such as K1.87, or a splice such as S3"),
            Entry("to", TEXT, "", NEEDED, "the same"),
            Entry("size_mm2", sizes, "", NEEDED, "cross-section"),
            Entry("length_m", {"type": "number", "minimum": 0.01, "maximum": 100.0}, "", NEEDED,
                  "length"),
            Entry("joint_ohm", {"type": "number", "minimum": 1e-4, "maximum": 1e6}, "", 0.002,
                  "resistance of each of its two joints"),
            Entry("colour", {"type": "string"}, "", "", "colour of the insulation"))


def _test_point() -> tuple[Entry, ...]:
    return (Entry("number", {"type": "integer", "minimum": 1}, "", NEEDED, "its number"),
            Entry("at", TEXT, "", NEEDED, "terminal or splice"),
            Entry("label", {"type": "string"}, "", "", "what is written beside it"))


def _part() -> tuple[Entry, ...]:
    return (Entry("id", ID, "", NEEDED, "a letter, then letters, digits or _"),
            Entry("kind", {"enum": list(KINDS)}, "", NEEDED, "kind of part; see below"),
            Entry("label", {"type": "string"}, "", "", "what it is"),
            Entry("input", ID, "", "", "for kinds with an input: its name, for [requests]"))


def part_entries(kind: str) -> tuple[Entry, ...]:
    """Return the keys that a kind of part has besides those of all parts [tuple of Entry].

    Examples
    --------
    >>> [one.key for one in part_entries("fuse")]
    ['rating_A', 'resistance_ohm']
    """
    found = []
    for key, one in KINDS[kind].parameters.items():
        if not one.internal:
            schema = ({"enum": list(one.choices)} if one.choices else
                      {"type": "number", "minimum": one.least, "maximum": one.most})
            found.append(Entry(key, schema, one.unit,
                               NEEDED if one.default is None else one.default, ""))
    return tuple(found)
