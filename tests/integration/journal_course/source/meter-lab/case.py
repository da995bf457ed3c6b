"""The numbers of the meter lab."""

from coldbench.worksheet import Draw, Given


def draw(d: Draw) -> list[Given]:
    """Draw the resistance of the contacts of relay 1."""
    return [Given("contacts_ohm", d.grid("contacts", 0.05, 0.4, 0.01), "contacts of relay 1", "Ω")]
