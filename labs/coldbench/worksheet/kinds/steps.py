"""Steps: which are done, in an order in which some must come before others.

Where an order is right in more than one way, "ordered list" would mark good work down. Here the
key is a list of pairs: what must come before what. A hidden check:

    sheet.mark("open the fan circuit",
               key=[("switch off", "pull the fuse"),
                    ("pull the fuse", "take the reading", "A live circuit spoils it.")],
               unsafe={"bridge the fuse": "The wire burns before anything else opens."})
"""

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, as_mistake
from coldbench.worksheet.kinds.choice import pick
from coldbench.worksheet.kinds.ordered import OrderedQuestion
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.spelling import sentence

UNSAFE = "unsafe step"
TOO_EARLY = "step too early"
MOST_NAMED = 2

Pair = tuple[str, str, str]


@dataclass(frozen=True)
class StepsQuestion(OrderedQuestion):
    """A question answered by those of `items` that belong, each once, in a good order.

    all_items true: every item belongs and only the order is asked.
    """

    all_items: bool = False
    rules: ClassVar[tuple[str, ...]] = ("needed", "unsafe")

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             needed: Iterable[str] | None = None,
             unsafe: Mapping[str, str] | Iterable[str] = ()) -> Mark:
        """Mark steps.

        key [a list: this order alone; or pairs (before, after) or (before, after, why)];
        needed [steps that must be there; default: all that the key names]; unsafe [step → why,
        or steps]. The share is that of the needed steps that are there, less one for each that
        does not belong, times how far the pairs kept exceed the half that chance keeps. An
        unsafe step earns nothing at all.
        """
        pairs = self._pairs(key)
        wanted = self._wanted(key if needed is None else needed, pairs, needed is None)
        danger = self._unsafe(unsafe)
        for name, mistake in mistakes.items():
            wrong = as_mistake(mistake).value
            if wrong is not None and answer.value == self._picked(wrong):
                return self.blamed(answer, name, mistake, key=_shown(pairs, wanted))
        if found := [step for step in answer.value if step in danger]:
            reason = f"'{found[0]}' must not be done here. {danger[found[0]]}".strip()
            return self.decided(answer, 0.0, sentence(reason), mistake=UNSAFE,
                                key=_shown(pairs, wanted))
        return self._share(answer, pairs, wanted)

    def _share(self, answer: Answer, pairs: list[Pair], wanted: list[str]) -> Mark:
        place = {step: i for i, step in enumerate(answer.value)}
        early = [pair for pair in pairs if pair[0] in place and pair[1] in place
                 and place[pair[0]] > place[pair[1]]]
        # Steps the key calls for but nobody needs leave their pairs open, not broken.
        asked = [pair for pair in pairs if {*pair[:2]} <= set(wanted) | set(place)]
        kept = [pair for pair in asked if {*pair[:2]} <= set(place) and pair not in early]
        missing = [step for step in wanted if step not in place]
        known = {*wanted, *itertools.chain(*(pair[:2] for pair in pairs))}
        extra = [step for step in answer.value if step not in known]
        share = max(0.0, (len(wanted) - len(missing) - len(extra)) / len(wanted))
        share *= max(0.0, 2 * len(kept) / len(asked) - 1) if asked else 1.0
        if not (early or missing or extra):
            return self.decided(answer, 1.0, "Right.", key=_shown(pairs, wanted))
        return self.decided(answer, min(share, 0.99), _reason(early, len(missing), extra),
                            mistake=TOO_EARLY if early else "", key=_shown(pairs, wanted))

    def _picked(self, steps: Iterable[str]) -> list[str]:
        return [pick(step, self.items) for step in steps]

    def _pairs(self, key: Any) -> list[Pair]:
        """The key as pairs, checked: known steps, and no circle among them."""
        if not isinstance(key, (list, tuple)) or not key:
            raise InputError(f"the key of {self.name!r} is a list of steps or of pairs")
        if all(isinstance(step, str) for step in key):
            return [(a, b, "") for a, b in itertools.pairwise(self._picked(key))]
        pairs = []
        for pair in key:
            if not isinstance(pair, (list, tuple)) or len(pair) not in (2, 3):
                raise InputError(f"{pair!r} in the key of {self.name!r} is not a pair "
                                 "(before, after) with or without a reason")
            pairs.append((*self._picked(pair[:2]), str(pair[2]) if len(pair) == 3 else ""))
        if circle := _circle(pairs):
            raise InputError(f"the key of {self.name!r} goes in a circle at {circle!r}")
        return pairs

    def _wanted(self, steps: Any, pairs: list[Pair], of_key: bool) -> list[str]:
        if of_key and pairs and not isinstance(steps[0], str):
            steps = list(itertools.chain(*(pair[:2] for pair in pairs)))
        named = self._picked(steps)
        if not named:
            raise InputError(f"no step of {self.name!r} is needed")
        return [item for item in self.items if item in named]

    def _unsafe(self, unsafe: Mapping[str, str] | Iterable[str]) -> dict[str, str]:
        table = unsafe if isinstance(unsafe, Mapping) else dict.fromkeys(unsafe, "")
        return {pick(step, self.items): why for step, why in table.items()}


def _circle(pairs: Iterable[Pair]) -> str:
    """A step that would have to come before itself, or ""."""
    before = {(a, b) for a, b, _ in pairs}
    steps = dict.fromkeys(itertools.chain(*before))
    while True:
        first = next((step for step in steps if not any(b == step for _, b in before)), None)
        if first is None:
            return next(iter(steps), "")
        del steps[first]
        before = {pair for pair in before if first not in pair}


def _shown(pairs: Iterable[Pair], wanted: Iterable[str]) -> str:
    told = [f"{a} → {b}" for a, b, _ in pairs]
    in_pairs = set(itertools.chain(*(pair[:2] for pair in pairs)))
    return "; ".join([*told, *(step for step in wanted if step not in in_pairs)])


def _reason(early: list[Pair], missing: int, extra: list[str]) -> str:
    said = [f"'{after}' comes too early. {sentence(why) if why else ''}".strip()
            for _, after, why in early[:MOST_NAMED]]
    if len(early) > MOST_NAMED:
        said.append("More steps come too early.")
    if missing:
        said.append(f"{missing} step{'s are' if missing > 1 else ' is'} missing.")
    if extra:
        said.append(f"Not needed here: {'; '.join(extra[:MOST_NAMED])}.")
    return " ".join(said)
