"""Answer kinds: one module each, with how an answer is read and how it is marked.

A new kind is a subclass of `Question` in a module of its own, listed in `_PLACES`.
"""

from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question

if TYPE_CHECKING:
    from coldbench.worksheet.kinds.journal import Wanted

# kind → (module of this folder, class)
_PLACES = {
    "quantity": ("quantity", "QuantityQuestion"),
    "choice": ("choice", "ChoiceQuestion"),
    "ordered list": ("ordered", "OrderedQuestion"),
    "table": ("table", "TableQuestion"),
    "truth table": ("truth_table", "TruthTableQuestion"),
    "steps": ("steps", "StepsQuestion"),
    "journal": ("journal", "JournalQuestion"),
    "fault tree": ("fault_tree", "FaultTreeQuestion"),
    "diagnosis": ("diagnosis", "DiagnosisQuestion"),
}


class _Kinds(Mapping[str, type[Question]]):
    """The kinds by name; a kind's module is imported when it is first asked for."""

    def __getitem__(self, kind: str) -> type[Question]:
        module, name = _PLACES[kind]
        return getattr(import_module(f"{__name__}.{module}"), name)

    def __contains__(self, kind: object) -> bool:
        return kind in _PLACES

    def __iter__(self) -> Iterator[str]:
        return iter(_PLACES)

    def __len__(self) -> int:
        return len(_PLACES)


KINDS: Mapping[str, type[Question]] = _Kinds()


def __getattr__(name: str) -> Any:
    modules = {name: module for module, name in _PLACES.values()} | {"Wanted": "journal"}
    if name in modules:
        return getattr(import_module(f"{__name__}.{modules[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def question_from_table(
    row: dict[str, Any], refuse: Callable[[str, str], InputError]
) -> Question:
    """Build a question from its `[[question]]` table [refuse: (key, reason) → error]."""
    if not isinstance(row, dict):
        raise refuse("id", "missing; a question is a table [[question]]")
    row = dict(row)
    name, kind = row.pop("id", None), row.pop("kind", None)
    if not isinstance(name, str) or not name.strip():
        raise refuse("id", "missing; a question needs a name")
    if not isinstance(kind, str) or kind not in KINDS:
        raise refuse("kind", f"{kind!r} of {name!r} is not one of {', '.join(KINDS)}")
    accepted = KINDS[kind].table_keys()
    if unknown := set(row) - set(accepted):
        raise refuse(sorted(unknown)[0], f"unknown for {name!r}; accepted: {', '.join(accepted)}")
    try:
        return KINDS[kind].from_table(name, row)
    except InputError as error:
        raise refuse(name, str(error)) from None


__all__ = ["KINDS", "Answer", "Question", "Wanted", "question_from_table"]
