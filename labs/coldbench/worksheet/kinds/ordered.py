"""An ordered list: items put into the right order."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.kinds.choice import check_options, pick
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.spelling import quoted


def longest_common_order(one: list[str], other: list[str]) -> int:
    """Length of the longest run of items that both lists hold in the same order.

    >>> longest_common_order(["a", "b", "c", "d"], ["b", "a", "c", "d"])
    3
    """
    best = [[0] * (len(other) + 1) for _ in range(len(one) + 1)]
    for i, a in enumerate(one):
        for j, b in enumerate(other):
            best[i + 1][j + 1] = best[i][j] + 1 if a == b else max(best[i][j + 1], best[i + 1][j])
    return best[-1][-1]


@dataclass(frozen=True)
class OrderedQuestion(Question):
    """A question answered by `items` in the right order, each once.

    all_items false: the learner chooses which items belong.
    """

    items: tuple[str, ...] = ()
    all_items: bool = True

    def __post_init__(self) -> None:
        check_options("items", self.items)

    @property
    def wanted(self) -> str:
        which = "all of these" if self.all_items else "those of these that belong,"
        return f"a list [ ] with {which} in the right order: {'; '.join(self.items)}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if not isinstance(value, list):
            raise InputError(f"{quoted(value)} is not a list; write {self.wanted}")
        picked = [pick(item, self.items) for item in value]
        if twice := [item for item in self.items if picked.count(item) > 1]:
            raise InputError(f"{twice[0]!r} stands twice in your list; name each once")
        if self.all_items and len(picked) < len(self.items):
            left = "; ".join(i for i in self.items if i not in picked)
            raise InputError(f"your list is too short; still to place: {left}")
        return Answer(picked, " → ".join(picked) or "empty",
                      "" if picked else "the list [ ] has nothing in it")

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             ) -> Mark:
        """Mark an order.

        A partly right order earns by its longest run of items in the right sequence, beyond
        half of the list: a reversed list earns nothing, chance hardly anything.
        """
        key = self.read(list(key)).value if self.all_items else [pick(k, self.items) for k in key]
        shown = " → ".join(key)
        if answer.value == key:
            return self.decided(answer, 1.0, "Right.", key=shown)
        for name, mistake in mistakes.items():
            wrong = as_mistake(mistake).value
            if wrong is not None and answer.value == [pick(w, self.items) for w in wrong]:
                return self.blamed(answer, name, mistake, key=shown)
        length = max(len(key), len(answer.value))
        kept = longest_common_order(answer.value, key)
        share = max(0.0, (kept - 1) / (length - 1)) if length > 1 else 0.0
        share = max(0.0, 2 * share - 1)  # about half the items fall into sequence by chance
        return self.decided(answer, min(share, 0.99),
                            f"The longest run in the right order has {kept} of your "
                            f"{len(answer.value)} items.", key=shown)
