"""Vent thermometer and anemometer."""

from coldbench.bench.outfit import Outfit
from coldbench.bench.source import Scene
from coldbench.bench.taken import Found, listed, pick


def vent(outfit: Outfit, scene: Scene, place: str) -> Found:
    """Return the temperature of the air out of a zone's vents; InputError lists the zones."""
    found = pick(scene.values, f"vent {outfit.one_of('vent', place, outfit.vents)}")
    return Found(found, listed(found))


def anemometer(outfit: Outfit, scene: Scene, place: str) -> Found:
    """Return the airflow at a place as a share of full; InputError lists the places."""
    found = pick(scene.values, f"{outfit.one_of('airflow', place, outfit.flows)} flow")
    return Found(found, listed(found))
