"""Load of a fuse in words: what share of its rating it carries, and how long it stands it.

Source: data/fuses.toml (bands from memory; types differ).
"""

import tomllib
from functools import lru_cache
from importlib import resources


@lru_cache
def time_bands() -> tuple[tuple[float, float, float], ...]:
    """Bands (share of rating from which it holds, least time [s], most time [s]).

    >>> time_bands()[0]
    (1.35, 0.75, 600.0)
    """
    text = resources.files(__package__).joinpath("data/fuses.toml").read_text("utf-8")
    return tuple((band["load_share"], band["least_s"], band["most_s"])
                 for band in tomllib.loads(text)["band"])


def fuse_words(load_share: float) -> str:
    """What a load does to a fuse: "" if it stands it, else when it opens.

    Parameters: load_share, current over rating.

    >>> fuse_words(0.6), fuse_words(2.2)
    ('', 'opens within 0.15–5 s')
    """
    found = ""
    for share, least, most in time_bands():
        if load_share >= share:
            found = f"opens within {least:g}–{most:g} s"
    return found
