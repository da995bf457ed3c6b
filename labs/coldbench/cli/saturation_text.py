"""The answer of `coldbench pt` as a few plain lines, easy to read aloud and to print."""

from coldbench.quantity import format_quantity
from coldbench.refrigerant import Fluid

_KELVIN_AT_0_DEGC = 273.15


def saturation_text(substance: Fluid, answer: dict) -> str:
    """Return the saturation state as text.

    Parameters
    ----------
    substance : Fluid
        Refrigerant.
    answer : dict
        From `coldbench.cli.pt.saturation_answer`.

    Returns
    -------
    str
        Several lines without a final line end.

    Examples
    --------
    >>> from coldbench.cli.pt import saturation_answer
    >>> from coldbench.refrigerant import fluid
    >>> r134a = fluid("R134a")
    >>> state = saturation_answer(r134a, {"--temperature": "0 degC"}, 101325.0, 0.0)
    >>> print(saturation_text(r134a, state))
    R-134a (1,1,1,2-tetrafluoroethane), safety class A1: lower toxicity, no flame propagation
      saturation temperature      0.0 °C     32.0 °F
      absolute pressure        292.8 kPa    2.93 bar   42.5 psia
      gauge pressure           191.5 kPa    1.91 bar   27.8 psig
      atmosphere               101.3 kPa  (ISO 2533 at 0 m)
    """
    head = (f"{substance.designation} ({substance.record.chemical}), safety class "
            f"{substance.safety_class}: {substance.record.safety_meaning}")
    rows = [*_temperature_rows(answer), *_pressure_rows(substance, answer), _air_row(answer)]
    return "\n".join([head, *(f"  {label:<23}{text}".rstrip() for label, text in rows)])


def _temperature_rows(answer: dict) -> list[tuple[str, str]]:
    labels = {"temperature_degC": "saturation temperature", "bubble_temperature_degC":
              "bubble temperature", "dew_temperature_degC": "dew temperature"}
    return [(label, _columns(answer[key] + _KELVIN_AT_0_DEGC, "temperature", "degC", "degF"))
            for key, label in labels.items() if key in answer]


def _pressure_rows(substance: Fluid, answer: dict) -> list[tuple[str, str]]:
    two = substance.has_glide and "temperature_degC" in answer
    sides = {"bubble": "bubble, ", "dew": "dew, "} if two else {"dew": ""}
    rows = []
    for side, label in sides.items():
        absolute_Pa = answer[f"{side}_pressure_kPa_abs"] * 1e3
        gauge_Pa = answer[f"{side}_pressure_kPa_gauge"] * 1e3
        rows += [(_pressure_label(label, "absolute"),
                  _columns(absolute_Pa, "absolute pressure", "kPa", "bar", "psia")),
                 (_pressure_label(label, "gauge"),
                  _columns(gauge_Pa, "gauge pressure", "kPa", "bar", "psig") + _vacuum(gauge_Pa))]
    return rows


def _pressure_label(side: str, kind: str) -> str:
    return f"{side}{kind} pressure" if not side else f"{side}{kind}"


def _vacuum(gauge_Pa: float) -> str:
    if gauge_Pa >= 0.0:
        return ""
    return f"   vacuum: {format_quantity(gauge_Pa, 'inHg vac', 'gauge pressure')}"


def _air_row(answer: dict) -> tuple[str, str]:
    altitude_m = answer["altitude_m"]
    source = "barometer" if altitude_m is None else f"ISO 2533 at {altitude_m:g} m"
    pressure = _columns(answer["atmosphere_kPa"] * 1e3, "absolute pressure", "kPa")
    return "atmosphere", f"{pressure}  ({source})"


def _columns(value_si: float, kind: str, *units: str) -> str:
    texts = [format_quantity(value_si, unit, kind) for unit in units]
    return " ".join(f"{text:>11}" for text in texts)
