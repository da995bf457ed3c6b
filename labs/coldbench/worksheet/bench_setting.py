"""How a circuit bench stands: switched, fitted, unplugged. Plain data in the journal."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError


@dataclass(frozen=True)
class Setting:
    """How the bench stands.

    settings [state name or (input, setting) pairs]; inputs [("part.parameter", value) pairs];
    unplugged [parts and wires]; battery [connected?].
    """

    settings: Any
    inputs: tuple[tuple[str, float], ...] = ()
    unplugged: tuple[str, ...] = ()
    battery: bool = True

    def as_dict(self) -> dict[str, Any]:
        """The setting as plain data, short: what is not there is left out."""
        named = {"state": self.settings} if isinstance(self.settings, str) else {
            "set": dict(self.settings)}
        more = {"inputs": dict(self.inputs), "unplugged": list(self.unplugged),
                "battery": "" if self.battery else "disconnected"}
        return {**named, **{name: value for name, value in more.items() if value}}


def setting_of(table: Any) -> Setting:
    """Read a setting from untrusted plain data; raises InputError when it is none.

    >>> setting_of({"state": "low", "battery": "disconnected"}).as_dict()
    {'state': 'low', 'battery': 'disconnected'}
    """
    known = {"bench", "state", "set", "inputs", "unplugged", "battery", "after"}
    if not isinstance(table, Mapping) or set(table) - known or ("state" in table) == (
            "set" in table):
        raise InputError("this is not how the bench stands")
    settings = table.get("state", table.get("set"))
    inputs, unplugged = table.get("inputs", {}), table.get("unplugged", [])
    if not (isinstance(settings, (str, Mapping)) and isinstance(inputs, Mapping)
            and isinstance(unplugged, list) and all(isinstance(u, str) for u in unplugged)
            and table.get("battery", "disconnected") == "disconnected"):
        raise InputError("this is not how the bench stands")
    return Setting(settings, tuple(sorted(inputs.items())), tuple(unplugged),
                   "battery" not in table)


def named(settings: Any) -> Any:
    """Settings as the solver takes them: a state's name or a table.

    >>> named("low"), named((("low_request", True),))
    ('low', {'low_request': True})
    """
    return settings if isinstance(settings, str) else dict(settings)


def standing(setting: Setting) -> str:
    """How the bench stands, in words.

    >>> standing(Setting("low", unplugged=("K1",), battery=False))
    'state low, K1 unplugged, battery disconnected'
    """
    if isinstance(setting.settings, str):
        words = f"state {setting.settings}"
    else:
        words = ", ".join(f"{name} {_word(value)}" for name, value in setting.settings)
    more = [f"{name} = {value:g}" for name, value in setting.inputs]
    more += [f"{', '.join(setting.unplugged)} unplugged"] if setting.unplugged else []
    more += [] if setting.battery else ["battery disconnected"]
    return ", ".join([words or "as it stands", *more])


def _word(value: Any) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else f"{value:g}"
