"""Open a sealed bench: readings out of its file instead of the model.

    open_sealed("bench-7.sealed").session("full cooling").gauges()

A sealed bench answers every instrument in its declared states. Where the model could do more
than the file holds, it refuses in a sentence: combinations of sensor boxes and unplugged parts,
boxes at other values, the test lamp between two points of which neither is a battery post.
"""

import hashlib
import hmac
import json
import zlib
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from coldbench.bench.outfit import Outfit, outfit_from
from coldbench.bench.reading import Measured
from coldbench.bench.seal import FORMAT, METERED, VERSION, part_hash, signature
from coldbench.bench.sealed_tables import Wiring, applied, full_matrix, measured
from coldbench.bench.session import Session
from coldbench.bench.source import Lit
from coldbench.bench.standing import Standing
from coldbench.bench.waveform import Pulses, Waveform, level
from coldbench.electrical.instruments import Refusal
from coldbench.electrical.instruments.lamp import brightness
from coldbench.errors import InputError

LARGEST_BYTES = 20_000_000  # unpacked; a bench has about two million
_NOT_HERE = "not with this sealed bench: "


def open_sealed(path: str | Path, key: bytes | None = None) -> "SealedBench":
    """Return a sealed bench from its file.

    Parameters
    ----------
    path : str or Path
        The file.
    key : bytes, optional
        The instructor's key: then the file must bear its signature.

    Returns
    -------
    SealedBench

    Raises
    ------
    InputError
        For a file that is missing, no sealed bench, changed after it was sealed, or signed with
        another key.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"sealed bench {path.name} cannot be read: {error.strerror}") from None
    return SealedBench(unpacked(data, path.name, key))


def unpacked(data: bytes, file: str, key: bytes | None = None) -> dict[str, Any]:
    """Return the content of a sealed file, checked.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for messages.
    key : bytes, optional
        As for `open_sealed`.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        As for `open_sealed`.

    Examples
    --------
    >>> unpacked(b"nothing", "x.sealed")
    Traceback (most recent call last):
    coldbench.errors.InputError: x.sealed is not a sealed bench, or it is damaged; ask for it again
    """
    head, text = _parts(data, file)
    if head.get("version") != VERSION:
        raise InputError(f"{file} is a sealed bench of version {head.get('version')!r}; this "
                         f"program reads version {VERSION}")
    if head.get("hash") != hashlib.sha256(text).hexdigest():
        raise InputError(f"{file} was changed after it was sealed, so its readings cannot be "
                         "believed; ask for the file again")
    if key is not None and not hmac.compare_digest(str(head.get("signature")),
                                                   signature(text, key)):
        raise InputError(f"{file} does not bear the signature of this key; it was sealed with "
                         "another one or changed and sealed again")
    return json.loads(text)


def _parts(data: bytes, file: str) -> tuple[dict, bytes]:
    """Head and content of a file, not yet believed."""
    wrong = InputError(f"{file} is not a sealed bench, or it is damaged; ask for it again")
    try:
        plain = zlib.decompressobj(31).decompress(data, LARGEST_BYTES)
        first, _, text = plain.partition(b"\n")
        head = json.loads(first)
    except (OSError, ValueError, zlib.error, RecursionError):
        raise wrong from None
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise wrong
    return head, text


class SealedBench:
    """A bench known by its readings alone; a source for sessions."""

    def __init__(self, content: dict[str, Any]) -> None:
        self._content = content
        self.outfit: Outfit = outfit_from(content["outfit"])
        self._numbers: dict[tuple[int, str], int] = {}
        self._tables: dict[tuple[int, str], dict] = {}

    @property
    def name(self) -> str:
        """Name of the bench."""
        return self.outfit.name

    def session(self, state: str | None = None, note=None) -> Session:
        """Open a session at this bench. Raises: InputError for an unknown state."""
        return Session(self, state, note)

    def scene(self, standing: Standing) -> "SealedScene":
        """The bench as it stands. Raises: Refusal for what the file does not hold."""
        number = self._after(standing.replaced)
        table = self._table(number, standing.state)
        if standing.unplugged and (standing.boxes or "alone" not in table):
            raise Refusal(_NOT_HERE + "an unplugged part can be measured on its own, with the "
                          "ignition off and before anything is replaced; plug it in first")
        if standing.boxes:
            table = table | self._boxed(number, standing, table)
        tests = self._content["benches"][number].get("tests", {}).get(standing.state, {})
        return SealedScene(self, table, tests, standing)

    def ignition(self, state: str) -> bool:
        """Whether the ignition is on in a state."""
        return self._table(0, state)["ignition"]

    def off_after_repair(self, replaced: tuple[str, ...]) -> tuple[str, ...]:
        """States in which the bench shows anything else than a sound one [tuple of str]."""
        return tuple(self._content["benches"][self._after(replaced)]["off"])

    def _after(self, replaced: tuple[str, ...]) -> int:
        """Number of the bench after parts were replaced."""
        number = 0
        for part in replaced:
            if (number, part) not in self._numbers:
                mine = part_hash(self._content["salt"], number, part)
                self._numbers[number, part] = next(
                    (to for start, seal, to in self._content["repairs"]
                     if start == number and seal == mine), number)
            number = self._numbers[number, part]
        return number

    def _table(self, number: int, state: str) -> dict[str, Any]:
        states = self._content["benches"][number]["states"]
        if (number, state) not in self._tables:
            first = self.outfit.states[0]
            own = states[state]
            self._tables[number, state] = own if state == first else applied(states[first], own)
        return self._tables[number, state]

    def _boxed(self, number: int, standing: Standing, table: dict) -> dict[str, Any]:
        """What changes with a sensor box."""
        held = self._content["benches"][number].get("boxes", {})
        if standing.state not in held or len(standing.boxes) > 1:
            if not held:
                raise Refusal(f"{_NOT_HERE}no sensor box can be used once a part was replaced; "
                              "take the box out first")
            raise Refusal(f"{_NOT_HERE}one sensor box at a time can be used, in "
                          f"{' or '.join(held)}; take the box out, or go there")
        (name, value), = standing.boxes
        values = held[standing.state][name]
        if f"{value:g}" not in values:
            raise Refusal(f"{_NOT_HERE}the sensor box for {name} can be set to "
                          f"{', '.join(values)} {self.outfit.sensors[name]['unit']}")
        return applied({key: table[key] for key in METERED}, values[f"{value:g}"])


class SealedScene:
    """One state of a sealed bench, as instruments see it."""

    def __init__(self, bench: SealedBench, table: dict, tests: dict, standing: Standing) -> None:
        self._bench, self._all, self._tests, self._standing = bench, table, tests, standing
        self.ignition: bool = table["ignition"]
        self.running: bool = table["running"]

    @property
    def _table(self) -> dict[str, Any]:
        """Everything but the resistances of a part on its own."""
        if self._standing.unplugged:
            raise Refusal(f"{_NOT_HERE}while {', '.join(self._standing.unplugged)} is unplugged, "
                          "only its own resistance can be measured; plug it in first")
        return self._all

    @property
    def _nodes(self) -> list[str]:
        return self._bench._content["nodes"]

    @cached_property
    def values(self) -> Mapping[str, Measured]:
        """Every reading by its key."""
        return measured(self._table["values"], self._bench._content["labels"])

    @property
    def reasons(self) -> tuple[str, ...]:
        """The head's decisions and why, in words."""
        return tuple(self._table["reasons"])

    @property
    def charge_kg(self) -> float:
        """Refrigerant in the loop, as a scale shows it [kg]."""
        return self._table["charge_kg"]

    @property
    def leaks(self) -> bool:
        """Whether refrigerant leaks out."""
        return self._table["leaks"]

    @property
    def bubbles(self) -> float:
        """1 where bubbles go by, else 0."""
        return self._table["bubbles"]

    @cached_property
    def live(self) -> Wiring:
        """The wiring as a meter sees it."""
        names = self._bench._content["currents"]
        return Wiring(self._nodes, self._table["volts"],
                      full_matrix(self._table["ohms"], len(self._nodes)),
                      dict(zip(names, self._table["amps"], strict=True)))

    @cached_property
    def dead(self) -> "Wiring | _Alone":
        """The wiring with the battery lead off; of unplugged parts, those on their own."""
        if self._standing.unplugged:
            return _Alone(self._all["alone"], self._standing.unplugged, self._nodes)
        size = len(self._nodes)
        return Wiring(self._nodes, [0.0] * size, full_matrix(self._table["unpowered"], size), {})

    def between(self, red: str, black: str) -> tuple[tuple[str, ...], float] | None:
        """Wires and parts of the one way from red to black, and their current [A]."""
        for (start, end, names), amps in zip(self._bench._content["ways"],
                                             self._table["in_line"], strict=True):
            if (start, end) == (red, black):
                return tuple(names), amps
        return None

    def lamp(self, red: str, black: str) -> Lit:
        """What a test lamp between a test point and a battery post does."""
        found = self._table.get("lamp", {})
        if found and red == black:
            return Lit(0.0, f"The lamp is {brightness(0.0, '5W')}: 0.00 A.")
        for key, sign in ((f"{red}|{black}", 1.0), (f"{black}|{red}", -1.0)):
            if key in found:
                volts, note = found[key]
                return Lit(sign * volts, note)
        if not found:
            raise Refusal(_NOT_HERE + "no test lamp after a replacement; use the voltmeter")
        raise Refusal(f"{_NOT_HERE}clip the test lamp to {self._bench.outfit.ground} or "
                      f"{self._bench.outfit.supply} and put its tip on a test point")

    def trace(self, red: str, black: str) -> Waveform:
        """What the oscilloscope shows between two nodes."""
        found = self._table.get("pulses")
        if found is None:
            raise Refusal(_NOT_HERE + "no oscilloscope after a replacement; use the voltmeter")
        if not found["frequency_Hz"]:
            return level(self.live.voltage(red) - self.live.voltage(black))
        on, off = (dict(zip(self._nodes, found[key], strict=True)) for key in ("on", "off"))
        return Pulses(on, off, found["duty"], found["frequency_Hz"]).waveform(red, black)

    def test(self, what: str) -> Mapping[str, Measured]:
        """Readings while the head drives something for the service tool."""
        if not self._tests or self._standing.boxes:
            held = self._bench._content["benches"][0]["tests"]
            raise Refusal(f"{_NOT_HERE}actuator tests are held for {' and '.join(held)}, before "
                          "anything is replaced and without a sensor box")
        return measured(applied(self._table["values"], self._tests[what]),
                        self._bench._content["labels"])


class _Alone:
    """Parts off their wires, as an ohmmeter sees them: each between its own terminals."""

    def __init__(self, ohms: Mapping[str, list], parts: tuple[str, ...], nodes: list[str]) -> None:
        self._wirings = []
        for part in parts:
            own = [node for node in nodes if node.partition(".")[0] == part]
            if part in ohms:
                matrix = full_matrix(ohms[part], len(own))
                self._wirings.append(Wiring(own, np.zeros(len(own)), matrix, {}))

    def _at(self, *places: str) -> Wiring:
        for one in self._wirings:
            if all(place in one.row for place in places):
                return one
        raise Refusal(_NOT_HERE + "with a part unplugged both leads go to its own terminals")

    def thevenin(self, red: str, black: str) -> tuple[float, float]:
        """Resistance between two terminals of one part [ohm]."""
        return self._at(red, black).thevenin(red, black)
