"""Cases: a learner's own numbers, drawn from (course code, lab, learner id).

A case is public. Whoever knows the course code can work it out, and gains nothing by it:
a case is the question, never the answer. Learners whose ids end in a number (`ml-07`,
`ml-08`) are spread evenly over each range, so neighbours always differ.

Source of the spreading rule: additive recurrence with an irrational step whose continued
fraction has small terms (Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods,
1992, from memory).
"""

import hashlib
import importlib.util
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType
from typing import Any

from coldbench.errors import InputError

PRACTICE = "practice"
LONGEST_ID = 64
_DASHES = re.compile("[\u2010-\u2015\u2212\uFE58\uFE63\uFF0D]")


def clean_learner_id(text: str) -> str:
    """Give a learner id its one spelling [text: 1 to 64 visible characters].

    Raises InputError for an empty, over-long or control-character id.

    >>> clean_learner_id("  ml-07 ")
    'ml-07'
    """
    learner = unicodedata.normalize("NFC", str(text)).strip()
    usable = learner.isprintable() and not set(learner) & set("/\\") and learner.strip(".")
    if not usable or len(learner) > LONGEST_ID:
        raise InputError(
            f"learner id {learner[:80]!r} cannot be used; "
            f"a learner id is 1 to {LONGEST_ID} visible characters without a slash"
        )
    return learner


def case_identity(learner: str) -> str:
    """Name whose numbers a learner gets: letter case, kind of dash and blanks do not matter.

    >>> case_identity("ML\u201107 ") == case_identity("ml-07")
    True
    """
    folded = unicodedata.normalize("NFKC", _DASHES.sub("-", learner)).casefold()
    return " ".join(_DASHES.sub("-", folded).split())


def _unit_hash(*words: str) -> float:
    """Map words to a number in 0 (included) to 1 (excluded) that anybody can work out again."""
    digest = hashlib.sha256("\x1f".join(words).encode("utf-8", "surrogatepass")).digest()
    return (int.from_bytes(digest[:7], "big") >> 3) / 2**53


def _spreading_step(seed: float) -> float:
    """Turn a number in 0 to 1 into one of 6,561 irrational steps between 0.25 and 0.8.

    Multiples of each spread evenly over 0 to 1, since no term of its continued fraction
    exceeds 3; two fields with different steps are spread independently of each other.
    """
    step = (math.sqrt(5) - 1) / 2
    for _ in range(8):
        seed *= 3
        step = 1 / (1 + int(seed) + step)
        seed %= 1
    return step


@dataclass(frozen=True)
class Given:
    """One number or word of a case, with the label and unit the learner reads.

    digits [after the point, as the instrument shows them; default: as many as needed].

    >>> Given("altitude_m", 450.0, "altitude of the workshop", "m").text
    '450 m'
    >>> Given("suction_pipe_C", 12.0, "suction pipe", "°C", digits=1).text
    '12.0 °C'
    """

    name: str
    value: Any
    label: str
    unit: str = ""
    digits: int | None = None

    @property
    def text(self) -> str:
        """The value as shown to the learner."""
        return f"{_show(self.value, self.digits)} {self.unit}".strip()


def _show(value: Any, digits: int | None) -> str:
    if isinstance(value, (list, tuple)):
        return ", ".join(_show(item, digits) for item in value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        number = f"{value:.10g}" if digits is None else f"{value:.{digits}f}"
        return number.replace("-", "−")
    return str(value)


class Draw:
    """Draws the numbers of one learner's case; the same words always give the same numbers.

    practising [True for the practice case].

    >>> one, two = Draw("demo", "lab", "ml-07"), Draw("demo", "lab", "ml-08")
    >>> one.grid("speed", 1000, 2000, 50) != two.grid("speed", 1000, 2000, 50)
    True
    >>> one.grid("speed", 1000, 2000, 50) == Draw("demo", "lab", "ml-07").grid(
    ...     "speed", 1000, 2000, 50)
    True
    """

    def __init__(self, course_code: str, lab: str, learner: str, attempt: int = 0):
        self._words = (course_code, lab, str(attempt))
        identity = case_identity(learner)
        self.practising = identity == PRACTICE
        number = re.fullmatch(r"(.*?)(\d{1,6})", identity)
        self._group, self._number = (number[1], int(number[2])) if number else (identity, 0)

    def fraction(self, field: str) -> float:
        """Draw a number in 0 to 1 for a field, evenly spread over numbered learners."""
        start = _unit_hash(*self._words, field, self._group)
        step = _spreading_step(_unit_hash(*self._words, field, "step"))
        return (start + self._number * step) % 1.0

    def grid(self, field: str, low: float, high: float, step: float) -> float:
        """Draw one of low, low + step, … up to high; each is equally likely.

        Raises InputError when the step is not above 0 or high lies below low.
        """
        if not (step > 0 and low <= high < math.inf and low > -math.inf):
            raise InputError(f"grid {field!r}: step must be above 0 and low not above high; "
                             f"given are low {low}, high {high}, step {step}")
        count = math.floor((high - low) / step + 1e-9) + 1
        return round(low + step * int(self.fraction(field) * count), 10)

    def choice(self, field: str, options: Sequence[Any]) -> Any:
        """Draw one of the options; each is equally likely."""
        if not options:
            raise InputError(f"choice {field!r} has no options to draw from")
        return options[int(self.fraction(field) * len(options))]

    def shuffled(self, field: str, options: Iterable[Any]) -> list[Any]:
        """Draw an order of the options."""
        return sorted(options, key=lambda item: _unit_hash(
            *self._words, field, self._group, str(self._number), str(item)))


class Case:
    """A learner's numbers, read as attributes with the unit in the name.

    >>> case = Case([Given("altitude_m", 450.0, "altitude", "m")])
    >>> case.altitude_m
    450.0
    """

    def __init__(self, givens: Iterable[Given]):
        givens = tuple(givens)
        names = [given.name for given in givens]
        if unusable := [name for name in names if not _usable(name)]:
            raise InputError(f"a case cannot name a number {unusable[0]!r}; "
                             "a name is letters, digits and _ and does not start with _")
        if twice := [name for name in names if names.count(name) > 1]:
            raise InputError(f"a case names {twice[0]!r} twice; each name may stand once")
        object.__setattr__(self, "_givens", MappingProxyType({g.name: g for g in givens}))

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        if name not in self._givens:
            raise AttributeError(f"this case has no {name!r}; {_meant(name, self._givens)}")
        return self._givens[name].value

    def __reduce__(self) -> tuple[Any, ...]:
        return Case, (self.givens,)

    def __repr__(self) -> str:
        return f"Case({', '.join(f'{g.name}={g.value!r}' for g in self.givens)})"

    def __delattr__(self, name: str) -> None:
        raise AttributeError("a case cannot be changed; it is the question you were given")

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("a case cannot be changed; it is the question you were given")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._givens]

    def part(self, *words: str) -> "Case":
        """The givens whose label starts with one of the words; raises InputError for none.

        >>> Case([Given("a", 1.0, "van: gauge"), Given("b", 2.0, "bus: gauge")]).part("bus").b
        2.0
        """
        chosen = [given for given in self.givens if given.label.startswith(words)]
        if not chosen:
            raise InputError(f"no number of this case begins with {' or '.join(words)!r}")
        return Case(chosen)

    @property
    def givens(self) -> tuple[Given, ...]:
        """Every given in the order the lab wrote them."""
        return tuple(self._givens.values())


def _meant(name: str, known: Iterable[str]) -> str:
    """Offer the names most like a wrong one, or all of them.

    >>> _meant("suction_pipe", ["altitude_m", "suction_pipe_C"])
    'did you mean suction_pipe_C?'
    """
    by_small = {item.casefold(): item for item in known}
    close = get_close_matches(name.casefold(), by_small, n=3, cutoff=0.7)
    if close:
        return f"did you mean {' or '.join(by_small[item] for item in close)}?"
    return f"it has {', '.join(by_small.values())}"


def _usable(name: Any) -> bool:
    return (isinstance(name, str) and name.isidentifier() and not name.startswith("_")
            and name != "givens")


def draw_case(lab_folder: Path, lab: str, course_code: str, learner: str) -> Case:
    """Draw a learner's case with the lab's own rule.

    lab_folder [holds case.py with `draw(draw: Draw) -> list[Given] | None`]; a rule returns
    None when the numbers it drew do not make a solvable question, and is asked again.
    Raises InputError when the rule is missing, fails, or finds nothing in 200 attempts.
    """
    rule = _load_rule(lab_folder / "case.py", lab)
    learner = clean_learner_id(learner)
    for attempt in range(200):
        givens = _apply(rule, Draw(course_code, lab, learner, attempt), lab)
        if givens is not None:
            return Case(givens)
    raise InputError(f"{lab}/case.py finds no solvable case for {learner!r} in 200 attempts")


def _apply(rule: Callable[[Draw], Any], draw: Draw, lab: str) -> tuple[Given, ...] | None:
    try:
        givens = rule(draw)
        givens = None if givens is None else tuple(givens)
    except Exception as error:
        raise _failed(lab, error) from error
    if givens is not None and not all(isinstance(given, Given) for given in givens):
        raise InputError(f"{lab}/case.py: draw must return a list of Given, or None")
    return givens


def _failed(lab: str, error: Exception) -> InputError:
    trace = error.__traceback__
    lines = []
    while trace is not None:
        if trace.tb_frame.f_code.co_filename.endswith("case.py"):
            lines.append(trace.tb_lineno)
        trace = trace.tb_next
    line = f" in line {lines[-1]}" if lines else ""
    return InputError(f"{lab}/case.py failed{line}: {type(error).__name__}: {error}")


def _load_rule(path: Path, lab: str) -> Callable[[Draw], Any]:
    if not path.is_file():
        raise InputError(
            f"{path.name} is missing beside the notebook ({path.parent}); keep the files of a "
            "lab folder together, or copy the folder again"
        )
    spec = importlib.util.spec_from_file_location(f"coldbench_case_{path.parent.name}", path)
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except Exception as error:
        raise _failed(lab, error) from error
    if not callable(getattr(module, "draw", None)):
        raise InputError(f"{lab}/case.py holds no function draw(draw)")
    return module.draw
