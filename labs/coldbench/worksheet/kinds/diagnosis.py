"""A diagnosis: which part, what is wrong with it, and the measurements that prove it.

In `lab.toml`; both lists may be left out where the learner's case names them:

    [[question]]
    id = "bench 1"
    kind = "diagnosis"
    parts = ["F1", "K1", "M1"]
    modes = ["open", "burnt", "shorted"]

A learner gives the numbers of the journal's entries as evidence:

    {"part": "K1", "mode": "burnt", "evidence": [4, 7]}        or ("K1", "burnt", [4, 7])

A hidden check gives the key, the journal, and what proves it, a function of the named entries:

    sheet.mark("bench 1", key=("K1", "burnt"), journal=sheet.given("measurements"),
               expected=bench.expected, proves=lambda entries: any(map(drop.fits, entries)))

`proves` answers with true, false, a share from 0 to 1, or a sentence that says what is not yet
proven. Entries that the bench could not have given, or that were refused, prove nothing. Who
names part and mode without proof gets what the two are worth, `part` + `mode` of the points, and
no more; proof of a wrong part is worth nothing.

A lab that marks the way as well gives `scored` in place of `proves`: a function of what is named
and of the whole journal that answers with a `Judged` (`bench_marking.py` has one). It is asked
only when the part is right.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, ClassVar, NamedTuple

from coldbench.errors import InputError
from coldbench.worksheet.entries import MOST_ENTRIES, Entry
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.kinds.choice import check_options, pick
from coldbench.worksheet.kinds.journal import Expected, sift
from coldbench.worksheet.marks import Mark, checked_share
from coldbench.worksheet.records import is_blank
from coldbench.worksheet.spelling import find, fold, one_line, quoted, sentence

GUESSED = "named, not proven"
OTHER_PART = "another part blamed"
OTHER_MODE = "right part, other fault"
NO_SUCH_ENTRY = "evidence that is not in the journal"
IMPOSSIBLE = "evidence the bench could not have given"
PART, MODE = 0.3, 0.1
MOST_EVIDENCE = 40
MOST_NAMED = 20  # a longer list of names stands in the lab's text, not in every message
_NAMES = ("part", "mode", "evidence")
Proves = Callable[[tuple[Entry, ...]], Any]


class Judged(NamedTuple):
    """How a diagnosis was judged: share of the points, the mistake's name or "", the reason."""

    share: float
    name: str
    reason: str


Scored = Callable[[Mapping[str, Any], tuple[Entry, ...]], Judged]


@dataclass(frozen=True)
class DiagnosisQuestion(Question):
    """A question answered by part, mode and evidence.

    parts, modes [names to choose from; empty: any].
    """

    parts: tuple[str, ...] = ()
    modes: tuple[str, ...] = ()
    rules: ClassVar[tuple[str, ...]] = ("proves", "scored", "journal", "expected", "part",
                                         "mode")

    def __post_init__(self) -> None:
        for name, options in (("parts", self.parts), ("modes", self.modes)):
            if options:
                check_options(name, options)

    @property
    def wanted(self) -> str:
        said = [f"{name} one of these: {'; '.join(options)}" for name, options in
                (("part", self.parts), ("mode", self.modes)) if 0 < len(options) <= MOST_NAMED]
        form = ('part, mode and the numbers of the journal entries that prove it, like '
                '{"part": "K1", "mode": "coil open", "evidence": [4, 7]}')
        return form + ("; " + "; ".join(said) if said else "")

    def read(self, value: Any, unit: Any = None) -> Answer:
        given = self._three(value)
        part = _word("part", given.get("part"), self.parts)
        mode = _word("mode", given.get("mode"), self.modes)
        numbers = _numbers(given.get("evidence"))
        told = "no evidence" if not numbers else f"evidence {', '.join(map(str, numbers))}"
        doubt = "" if numbers else ("it names no evidence; a cause that is only named earns "
                                    "little")
        return Answer({"part": part, "mode": mode, "evidence": list(numbers)},
                      f"{part}, {mode}; {told}", doubt)

    def _three(self, value: Any) -> dict[str, Any]:
        """Part, mode and evidence, by name."""
        if isinstance(value, list | tuple) and 2 <= len(value) <= 3:
            return dict(zip(_NAMES, value, strict=False))
        if not isinstance(value, Mapping):
            raise InputError(f"{quoted(value)} is not a diagnosis; write {self.wanted}")
        given = {}
        for written, item in value.items():
            name = find(str(written)[:100], _NAMES)
            if name is None or name in given:
                raise InputError(f"{quoted(written)} does not belong here, or stands twice; "
                                 "wanted are part, mode and evidence")
            given[name] = item
        return given

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             proves: Proves | None = None, journal: Iterable[Entry] | None = None,
             expected: Expected | None = None, part: float = PART, mode: float = MODE,
             scored: Scored | None = None) -> Mark:
        """Mark a diagnosis.

        key [(part, mode), or a list of such pairs of which each is right]; proves [see the
        module; None: nothing need be proven]; journal [the learner's entries]; expected [entry →
        (value, unit, ±), as for a journal]; part, mode [share of the points for each; the rest is
        for the proof]; scored [see the module; in place of proves, expected, part and mode];
        mistakes [name → (part, mode), or a Mistake of one].
        """
        pairs = self._pairs(key)
        checked_share(part + mode)
        shown = " or ".join(", ".join(pair) for pair in pairs)
        given = answer.value["part"], answer.value["mode"]
        named = [pair for pair in pairs if fold(pair[0]) == fold(given[0])]
        for name, mistake in mistakes.items():
            wrong = as_mistake(mistake).value
            if wrong is not None and _alike(self._pairs(wrong)[0], given):
                return self.blamed(answer, name, mistake, key=shown)
        if not named:
            return self.decided(answer, 0.0, "Another part is the cause. Which of your readings "
                                "would be normal if this part were whole?", key=shown,
                                mistake=OTHER_PART)
        if scored is not None:
            share, name, reason = scored(answer.value, tuple(journal or ()))
            return self.decided(answer, share, reason, key=shown, mistake=name)
        right_mode = any(_alike(pair, given) for pair in named)
        proof, name, said = self._proof(answer, proves, tuple(journal or ()), expected)
        share = part + (mode if right_mode else 0.0) + (1.0 - part - mode) * proof
        if not right_mode:
            name = name or OTHER_MODE
            said = ["The part is right, what is wrong with it is not.", *said]
        elif proof < 1:
            said = ["Part and fault are right.", *said]
        if share >= 1 - 1e-9:
            return self.decided(answer, 1.0, "Right, and proven.", key=shown)
        return self.decided(answer, share, " ".join(said), key=shown, mistake=name)

    def _proof(self, answer: Answer, proves: Proves | None, journal: tuple[Entry, ...],
               expected: Expected | None) -> tuple[float, str, list[str]]:
        """How far the evidence proves the cause [0 to 1], the mistake's name, what to say."""
        if proves is None:
            return 1.0, "", []
        numbers = answer.value["evidence"]
        if not numbers:
            return 0.0, GUESSED, ["No measurement is named that proves it."]
        by_number = {entry.n: entry for entry in journal}
        absent = [n for n in numbers if n not in by_number]
        read = [by_number[n] for n in numbers if n in by_number]
        good, impossible = sift(read, expected)
        name, said = "", []
        if absent:
            name = NO_SUCH_ENTRY
            said.append(f"Not in your journal: entry {', '.join(map(str, absent[:6]))}.")
        if impossible:
            name = IMPOSSIBLE
            shown = ", ".join(str(entry.n) for entry in impossible[:6])
            said.append(f"The bench could not have given entry {shown}; it proves nothing.")
        proof, why = _verdict(proves, tuple(e for e in good if not e.refused))
        if proof < 1:
            name = name or GUESSED
            said.append(why)
        return proof, name if proof < 1 else "", said

    def _pairs(self, key: Any) -> list[tuple[str, str]]:
        """The key as pairs (part, mode)."""
        if isinstance(key, Mapping):
            key = (key.get("part"), key.get("mode"))
        pairs = [key] if isinstance(key, tuple) else key
        if not isinstance(pairs, list) or not pairs or not all(
                isinstance(pair, list | tuple) and len(pair) == 2 for pair in pairs):
            raise InputError(f"the key of {self.name!r} is a pair (part, mode), or a list of pairs")
        return [(_word("part", a, self.parts), _word("mode", b, self.modes)) for a, b in pairs]


def _alike(pair: tuple[str, str], given: tuple[str, str]) -> bool:
    return all(fold(a) == fold(b) for a, b in zip(pair, given, strict=True))


def _word(name: str, value: Any, options: tuple[str, ...]) -> str:
    if is_blank(value):
        raise InputError(f"the {name} is missing; write part, mode and evidence")
    if 0 < len(options) <= MOST_NAMED:
        return pick(value, options)
    if options:
        return _of_many(name, value, options)
    if not isinstance(value, str) or not fold(value):
        raise InputError(f"the {name} must be a name, not {quoted(value)}")
    return one_line(value, 80)


def _of_many(name: str, value: Any, options: tuple[str, ...]) -> str:
    """The option that a text means, out of many; else InputError with those most like it."""
    found = find(str(value)[:100], options) if isinstance(value, str) else None
    if found is None:
        words = set(str(value)[:100].casefold().split())
        close = ([one for one in options if words == set(one.casefold().split())]
                 or get_close_matches(str(value)[:100], options, 3))
        meant = f"did you mean {' or '.join(close)}?" if close else (
            f"there are {len(options)}; the lab's list of names has them")
        raise InputError(f"{quoted(value)} is not the name of a {name}: {meant}")
    return found


def _numbers(value: Any) -> tuple[int, ...]:
    """Numbers of journal entries, each once, in order."""
    if is_blank(value):
        return ()
    if isinstance(value, str):
        value = value.replace(";", ",").split(",")
    items = value if isinstance(value, list | tuple) else [value]
    if len(items) > MOST_EVIDENCE:
        raise InputError(f"{len(items)} entries are named as evidence; name at most "
                         f"{MOST_EVIDENCE}, those that prove it")
    return tuple(sorted({_number(item) for item in items}))


def _number(item: Any) -> int:
    text = str(item).strip().lstrip("#") if isinstance(item, str | int | float) else ""
    text = text.removesuffix(".0")
    if isinstance(item, bool) or not text.isdecimal() or len(text) > 6 or not (
            1 <= int(text) <= 10 * MOST_ENTRIES):
        raise InputError(f"{quoted(item)} is not the number of a journal entry; evidence is a "
                         "list of whole numbers such as [4, 7]")
    return int(text)


def _verdict(proves: Proves, entries: tuple[Entry, ...]) -> tuple[float, str]:
    """What the lab's own function says about the entries: share proven, and why not more."""
    unproven = "The measurements you name do not prove it: another cause could give them too."
    if not entries:
        return 0.0, "None of the measurements you name proves anything."
    try:
        found = proves(entries)
    except Exception:  # an entry's words are a stranger's; what cannot be read proves nothing
        return 0.0, unproven
    if isinstance(found, str):
        return 0.0, sentence(found)
    share = min(max(float(found), 0.0), 1.0)
    return share, unproven if share <= 0 else "The measurements you name prove it in part."
