"""What an instructor should look at first, in sentences."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from coldbench.grading.attempts import tells_attempts
from coldbench.grading.feedback_safe import one_line
from coldbench.grading.report_pages import plural
from coldbench.grading.statistics import EASY, HARD, WEAK_DISCRIMINATION

MOST_NAMES = 6
MOST_PLACES = 8


def remarks(facility: float | None, discrimination: float | None, counts: Mapping[str, int],
            learners: int) -> list[str]:
    """Say what is odd about one question.

    >>> remarks(0.2, 0.5, {"malformed": 0, "trouble": 0}, 24)
    ['Hard.']
    """
    said = []
    if counts.get("trouble"):
        said.append(f"The check failed for {plural(counts['trouble'], 'learner')}: "
                    "mend the lab's source and grade again.")
    if facility is not None and facility < HARD:
        said.append("Hard.")
    if facility is not None and facility > EASY:
        said.append("Nearly everybody is right.")
    elif discrimination is not None and discrimination < 0:
        said.append("Weaker learners do better here: check wording and key.")
    elif discrimination is not None and discrimination < WEAK_DISCRIMINATION:
        said.append("Says little about the rest: check its wording.")
    if learners and counts.get("malformed", 0) >= max(2, learners / 8):
        said.append("Many answers had the wrong form: say which form is wanted.")
    return said


def attention(summary: Mapping[str, Any], questions: Sequence[Any], learners: Sequence[Any],
              matches: Sequence[Any], mistakes: Sequence[Mapping[str, Any]],
              ) -> list[dict[str, str]]:
    """List what to look at first: [{about: section, text: sentence}]."""
    found = [*_failed_checks(questions), *_stuck(questions, learners),
             *_common(questions, mistakes, summary["learners"]), *_weak(questions),
             *_matches(matches), *_hand(summary), *_notices(learners)]
    return [{"about": about, "text": text} for about, text in found]


def names(learners: Sequence[str]) -> str:
    """Name some learners, and how many more.

    >>> names([f"ml-{n}" for n in range(8)])
    'ml-0, ml-1, ml-2, ml-3, ml-4, ml-5 and 2 more'
    """
    shown = ", ".join(one_line(who, 64) for who in learners[:MOST_NAMES])
    rest = len(learners) - MOST_NAMES
    return f"{shown} and {rest} more" if rest > 0 else shown


def _failed_checks(questions: Sequence[Any]) -> list[tuple[str, str]]:
    return [("questions", f"The check of question {q.label} ({q.title}) failed for "
             f"{plural(q.counts['trouble'], 'learner')}; mend the lab and grade again.")
            for q in questions if q.counts["trouble"]]


def _stuck(questions: Sequence[Any], learners: Sequence[Any]) -> list[tuple[str, str]]:
    at: dict[int, list[str]] = defaultdict(list)
    for one in learners:
        if one.stuck_at is not None:
            at[one.stuck_at].append(one.learner)
    if not at:
        return []
    total = sum(map(len, at.values()))
    places = [f"from question {questions[number - 1].label} ({questions[number - 1].title}): "
              f"{names(who)}" for number, who in sorted(at.items())]
    more = f"; and {len(places) - MOST_PLACES} more places" if len(places) > MOST_PLACES else ""
    return [("who", f"{plural(total, 'learner')} gave no more answers – "
             f"{'; '.join(places[:MOST_PLACES])}{more}.")]


def _common(questions: Sequence[Any], mistakes: Sequence[Mapping[str, Any]], learners: int,
            ) -> list[tuple[str, str]]:
    found = []
    for row in mistakes[:2]:
        if row["count"] >= max(2, learners / 8):
            where = ", ".join(questions[int(n) - 1].title for n in list(row["questions"])[:3])
            found.append(("mistakes", f"Common mistake, {row['count']} times: "
                          f"{one_line(row['name'])} ({where})."))
    return found


def _weak(questions: Sequence[Any]) -> list[tuple[str, str]]:
    weak = [q for q in questions if q.discrimination is not None
            and q.discrimination < WEAK_DISCRIMINATION and (q.facility or 0) <= EASY]
    if not weak:
        return []
    which = ", ".join(f"{q.label} ({q.title})" for q in weak[:3])
    return [("questions", f"Does not tell stronger from weaker learners: question {which}.")]


def _matches(matches: Sequence[Any]) -> list[tuple[str, str]]:
    if not matches:
        return []
    pairs = "; ".join(f"{one_line(m.learner, 64)} with {one_line(m.other, 64)}'s numbers"
                      for m in matches[:3])
    return [("matches", f"Answers that fit somebody else's numbers: {pairs}. Look at both "
             "notebooks before you ask.")]


def _hand(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    if not summary["answers_to_mark"]:
        return []
    return [("hand", f"{plural(summary['answers_to_mark'], 'answer')} of "
             f"{plural(summary['learners_to_mark'], 'learner')} to be marked by hand.")]


def with_own_repairs(learners: Sequence[Any]) -> list[str]:
    """Whose work was mended in a way that not half of the class's was.

    learners [records or rows of a report: with `learner` and `repairs`]. What happens to half
    of a class is the lab's doing: its text changed after it was handed out.
    """
    shared = Counter(text for one in learners for text in set(one.repairs))
    often = {text for text, count in shared.items() if count > max(2, len(learners) / 2)}
    return [one.learner for one in learners
            if any(not tells_attempts(text) for text in set(one.repairs) - often)]


def _notices(learners: Sequence[Any]) -> list[tuple[str, str]]:
    odd = [one.learner for one in learners if one.notices]
    mended = with_own_repairs(learners)
    return [("notices", f"{what} {names(who)}.")
            for what, who in (("Notices from grading about", odd),
                              ("Work that was missing, damaged or mended:", mended)) if who]
