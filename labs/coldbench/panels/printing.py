"""A step of nbconvert: a printed or exported notebook shows each panel's last setting.

`coldbench lab` switches it on for its own server (*File → Print*, *Save and Export*). Without
it a page shows each panel as it stood when its cell was run.
"""

from nbconvert.preprocessors import Preprocessor

from coldbench.panels.still import refresh_pictures


class LastSetting(Preprocessor):
    """Bring the still view of every panel up to the setting the notebook was saved with."""

    enabled = True

    def preprocess(self, nb, resources):
        """Change the notebook in place; see `refresh_pictures`."""
        refresh_pictures(nb)
        return nb, resources
