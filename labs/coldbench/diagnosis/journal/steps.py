"""One step of a learner's path."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PathStep:
    """One step: a test made, a part replaced, or a measurement refused.

    number [of the journal entry]; words [what was done, for people]; test [its name in the
    problem, "" for a step that is none of its tests]; outcome [of that test]; leaves [suspect set
    that a reading outside the problem's tests agrees with, bits; None: it says nothing]; minutes
    [spent]; refused [the caution, ""]; replaced [part put right here, ""]; prepares [it only gets a
    measurement ready, such as unplugging]; verifies [it shows the complaint itself]; possible [False: the bench could not have given this
    reading].
    """

    number: int = 0
    words: str = ""
    test: str = ""
    outcome: str = ""
    leaves: int | None = None
    minutes: float = 0.0
    refused: str = ""
    replaced: str = ""
    prepares: bool = False
    verifies: bool = False
    possible: bool = True

    @property
    def named(self) -> str:
        """The step as people name it."""
        return f"entry {self.number} ({self.words or self.test})" if self.number else (
            self.words or self.test)
