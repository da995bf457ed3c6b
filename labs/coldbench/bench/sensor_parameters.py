"""From what a sensor feels to what the wiring gets: resistance, output, light."""

from coldbench.bench.model import Bench

_INSIDE = 1e-6  # of a transducer's output, off the ends of its range


class SensorParameters:
    """Circuit inputs for physical values; a value asked for again is not worked out again."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.known: dict[str, tuple[float, float]] = {}

    def of(self, values: dict[str, float]) -> dict[str, float]:
        """Return parameter → its value [SI], each physical value held within its sensor's range."""
        found = {}
        for name, value in values.items():
            one = self.bench.inputs.input(name)
            known = self.known.get(name)
            if known is None or known[0] != value:
                low, high = _range(one.sensor)
                known = value, one.sensor.parameter(min(max(value, low), high))
                self.known[name] = known
            found[one.parameter] = known[1]
        return found


def _range(sensor) -> tuple[float, float]:
    model = sensor.model
    if sensor.kind in ("thermistor", "platinum"):
        return model.lowest_temperature_K, model.highest_temperature_K
    if sensor.kind == "transducer":
        return model.pressure(model.lowest_ratio + _INSIDE), model.pressure(
            model.highest_ratio - _INSIDE)
    return (0.0, 1.0) if sensor.kind == "potentiometer" else (0.0, 1400.0)
