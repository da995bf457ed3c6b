"""Collecting what was handed in: from a platform's export to `submitted/`, in one account.

`course.toml` may say how, and the command's options overrule it:

    [collect]
    pattern = "{learner}_{lab}_{anything}.ipynb"
    attempts = "last"            # or "first", "best"
    zone = "Europe/Berlin"       # of times in names and zip files, else UTC
    file_times = "yes"           # the time of a file counts as that of handing in, else not
"""

from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from pathlib import Path, PurePosixPath

from coldbench.errors import InputError
from coldbench.grading.attempts import (
    STAMP, attempts_of, digest_of, is_plain, keep_attempt, on_the_desk, place_attempt, policy_of,
)
from coldbench.grading.course import Course
from coldbench.grading.intake import claimed_lab, claimed_learner, read_submission
from coldbench.grading.limits import limits_from
from coldbench.grading.name_pattern import (
    ARCHIVE, JOURNAL, NOTEBOOK, OWN_PATTERNS, OWN_PATTERNS_OF_A_LAB, Named, NamePattern,
    copy_number,
)
from coldbench.grading.sources import (
    Harvest, Piece, from_archive, harvest, read_plain, shown_name,
)
from coldbench.grading.submissions import checked_learner, find_zone, read_moment
from coldbench.worksheet.journal import JOURNAL_FILE

_KEYS = ("pattern", "attempts", "zone", "file_times")
_FORMS = "LEARNER/LAB/*.ipynb or LEARNER_LAB_*.ipynb"


@dataclass(frozen=True)
class HandedIn:
    """One attempt found in a source.

    learner; lab; files [name → bytes: notebook and perhaps journal]; moment [of handing in];
    order [what attempts are sorted by]; name, source [where it was found]; unread [what should
    be a time of handing in, but is none].
    """

    learner: str
    lab: str
    files: dict[str, bytes]
    moment: datetime | None
    order: tuple
    name: str
    source: str
    unread: str = ""


@dataclass(frozen=True)
class Collected:
    """What became of one attempt.

    state ["new", "again": it was here already]; counts [it lies in `submitted/` now];
    repairs [what grading will have to mend]; claim, lab [the id and the lab that the notebook
    names].
    """

    work: HandedIn
    number: int
    state: str
    counts: bool
    repairs: tuple[str, ...]
    claim: str = ""
    lab: str = ""


@dataclass
class Account:
    """What a collection came to [refused: (name, reason); passed: names of no known form]."""

    collected: list[Collected] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    passed: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Manner:
    """How to collect: patterns, zone of times, whether a file's time counts, largest file."""

    patterns: tuple[NamePattern, ...]
    zone: tzinfo
    file_times: bool
    largest: int


def manner_of(course: Course, lab: str = "", pattern: str = "",
              file_times: bool | None = None) -> Manner:
    """Read how to collect from options and course.toml; raises InputError naming the key."""
    for key, value in course.collect.items():
        if key not in _KEYS:
            raise InputError(f"course.toml: collect.{key}: unknown key; "
                             f"accepted are {', '.join(_KEYS)}")
        if not isinstance(value, str):
            raise InputError(f"course.toml: collect.{key}: must be text")
    policy_of(course)
    name = course.collect.get("zone", "UTC")
    zone = find_zone(name)
    if zone is None:
        raise InputError(f"course.toml: collect.zone: there is no time zone {name!r}; "
                         "it is a name such as Europe/Berlin, or UTC")
    told = course.collect.get("file_times", "no")
    if told not in ("yes", "no"):
        raise InputError("course.toml: collect.file_times: must be yes or no")
    forms: Iterable[str] = (OWN_PATTERNS_OF_A_LAB if lab else OWN_PATTERNS)
    if chosen := pattern or course.collect.get("pattern", ""):
        forms = (chosen,)
    patterns = tuple(NamePattern(form, course.labs(), lab, zone) for form in forms)
    largest = int(limits_from(course.limits).notebook_MB * 1e6)
    return Manner(patterns, zone, told == "yes" if file_times is None else file_times, largest)


def collect(course: Course, sources: Sequence[Path], manner: Manner,
            check: bool = False) -> Account:
    """Collect every attempt that lies in some sources.

    check [True: nothing is written, the account says what would be]. An attempt that was
    collected before is not collected again. Raises InputError for a source that cannot be read.
    """
    account = Account()
    found: list[HandedIn] = []
    for source in _with_own_notebooks(sources):
        _refuse_own_folders(course, source)
        with closing(harvest(source, manner.largest, manner.zone)) as pieces:
            found += _sort_out(pieces, manner, account)
    seen: dict[str, str] = {}
    for folder in sorted(course.submitted.iterdir()) if course.submitted.is_dir() else []:
        try:
            checked_learner(folder.name, seen)
        except InputError:
            continue  # grading refuses it by name
    by_learner: dict[tuple[str, str], list[HandedIn]] = {}
    for work in sorted(found, key=lambda work: work.order):
        try:
            by_learner.setdefault((work.lab, checked_learner(work.learner, seen)), []).append(work)
        except InputError as error:
            account.refused.append((shown_name(work.name), str(error)))
    for (lab, learner), works in sorted(by_learner.items()):
        folder = course.submitted / learner / lab
        if folder.is_symlink() or folder.parent.is_symlink():  # it would be written elsewhere
            account.refused += [(shown_name(work.name), f"{learner}'s folder at the desk is a "
                                 "link; put a real folder in its place") for work in works]
        else:
            account.collected += _take_in(course, lab, learner, works, check)
    return account


def _with_own_notebooks(sources: Sequence[Path]) -> list[Path]:
    """Sources without the journals whose notebooks are among them: those bring them along."""
    return [path for path in sources
            if path.suffix != JOURNAL or path.with_suffix(NOTEBOOK) not in sources]


def _refuse_own_folders(course: Course, source: Path) -> None:
    inside = source.resolve()
    for own in (course.submitted, course.attempts, course.desk / "autograded"):
        if inside.is_relative_to(own.resolve()) or own.resolve().is_relative_to(inside):
            raise InputError(f"{source} holds, or lies in, the desk's own {own.name}/ folder; "
                             "name the export itself")


def _sort_out(found: Harvest, manner: Manner, account: Account,
              owner: Named | None = None) -> list[HandedIn]:
    """Group a source's files into attempts [owner: whose archive within an archive it is]."""
    account.refused += [(f"{name} ({found.pieces[0].source})" if found.pieces else name, why)
                        for name, why in found.refused]
    groups: dict[tuple, dict[str, list[tuple[Piece, Named]]]] = {}
    stray: list[Piece] = []
    archives: list[tuple[Piece, Named]] = []
    attempts: list[HandedIn] = []
    for piece in found.pieces:
        named = _owned(piece, owner) if owner else _named(piece, manner)
        if named is None or PurePosixPath(piece.name).name == STAMP:
            stray.append(piece)
        elif named.kind == ARCHIVE:
            archives.append((piece, named))
        else:
            key = (named.learner, named.lab, _folder(piece), named.time, named.attempt)
            groups.setdefault(key, {}).setdefault(named.kind, []).append((piece, named))
    beside = {(_folder(p), PurePosixPath(p.name).name): p for p in stray}
    for piece, named in archives:
        attempts += _inner(piece, named, beside.get((_folder(piece), STAMP)), manner, account)
    for key, kinds in groups.items():
        attempts += _attempts_of_group(key, kinds, beside, manner, account)
    used = {id(p) for p in beside.values() if PurePosixPath(p.name).name in (JOURNAL_FILE, STAMP)}
    account.passed += [shown_name(p.name) for p in stray if id(p) not in used]
    return attempts


def _named(piece: Piece, manner: Manner) -> Named | None:
    return next(filter(None, (form.read(piece.name) for form in manner.patterns)), None)


def _owned(piece: Piece, owner: Named) -> Named | None:
    """A file of a learner's own archive: hers, whatever it is called."""
    for kind in (NOTEBOOK, JOURNAL):
        if piece.name.endswith(kind):
            return replace(owner, kind=kind)
    return None


def _folder(piece: Piece) -> str:
    return PurePosixPath(piece.name).parent.as_posix()


def _inner(piece: Piece, owner: Named, stamp: Piece | None, manner: Manner,
           account: Account) -> list[HandedIn]:
    """Attempts in an archive that a learner handed in; archives in it are not opened.

    stamp [file beside the archive that says when]. Times inside it are the learner's own to set.
    """
    try:
        data, told = _read(piece, manner), "" if owner.time else _stamp(stamp)
        moment = owner.time or read_moment(told) or (piece.moment if manner.file_times else None)
        owner = replace(owner, time=moment, unread=owner.unread or told)
        with closing(from_archive(data, piece.name, manner.largest, manner.zone)) as inner:
            _keep_within(inner, manner.largest)
            inner.pieces = [p for p in inner.pieces if PurePosixPath(p.name).name != STAMP]
            return _sort_out(inner, replace(manner, file_times=False), account, owner)
    except InputError as error:
        account.refused.append((f"{shown_name(piece.name)} ({piece.source})", str(error)))
        return []


def _keep_within(inner: Harvest, most: int) -> None:
    """Refuse what of a learner's archive would unpack to more than one file may hold [bytes]."""
    kept, left = [], most
    for piece in inner.pieces:
        wanted = piece.size if piece.name.endswith((NOTEBOOK, JOURNAL)) else 0
        if wanted > left:
            inner.refused.append((shown_name(piece.name), "the notebooks and journals of this "
                                  f"archive hold more than {most / 1e6:g} MB together"))
        else:
            kept.append(piece)
            left -= wanted
    inner.pieces = kept


def _read(piece: Piece, manner: Manner) -> bytes:
    data = piece.read()
    if len(data) > manner.largest:
        raise InputError(f"it is larger than the {manner.largest / 1e6:g} MB that are read")
    return data


def _attempts_of_group(key: tuple, kinds: dict[str, list[tuple[Piece, Named]]],
                       beside: dict[tuple[str, str], Piece], manner: Manner,
                       account: Account) -> list[HandedIn]:
    """Attempts of one learner that lie together: each notebook is one, the journal is theirs."""
    learner, lab, folder, time, attempt = key
    journals = [piece for piece, _ in kinds.get(JOURNAL, [])]
    journals += [beside[folder, JOURNAL_FILE]] if (folder, JOURNAL_FILE) in beside else []
    if NOTEBOOK not in kinds:
        account.refused += [(f"{shown_name(p.name)} ({p.source})", "no notebook lies beside it")
                            for p in journals]
    found = []
    for piece, named in kinds.get(NOTEBOOK, []):
        try:
            files = {f"{lab}.ipynb": _read(piece, manner)}
            if journal := _journal_for(piece, journals):
                files[JOURNAL_FILE] = _read(journal, manner)
            stamp = "" if time else _stamp(beside.get((folder, STAMP)))
            moment = time or read_moment(stamp)
        except InputError as error:
            account.refused.append((f"{shown_name(piece.name)} ({piece.source})", str(error)))
            continue
        moment = moment or (piece.moment if manner.file_times else None)
        order = (attempt or 0, moment or piece.moment or datetime.min.replace(tzinfo=UTC),
                 copy_number(piece.name), piece.name)
        unread = "" if moment else stamp or named.unread
        found.append(HandedIn(learner, lab, files, moment, order, piece.name, piece.source, unread))
    return found


def _journal_for(notebook: Piece, journals: list[Piece]) -> Piece | None:
    """The journal that belongs to a notebook: the only one, or the one of the same name."""
    if len(journals) == 1:
        return journals[0]
    stem = PurePosixPath(notebook.name).stem
    return next((p for p in journals if PurePosixPath(p.name).stem == stem), None)


def _stamp(piece: Piece | None) -> str:
    if piece is None:
        return ""
    return piece.read()[:100].decode("utf-8-sig", "replace").strip()


def _take_in(course: Course, lab: str, learner: str, works: list[HandedIn],
             check: bool) -> list[Collected]:
    """Keep a learner's attempts, then let one of them count."""
    known = attempts_of(course, lab, learner)
    numbers = {attempt.digest: attempt.number for attempt in known}
    line = [(attempt.moment, attempt.digest) for attempt in known]

    def keep(work: HandedIn) -> tuple[str, str]:
        digest = digest_of(work.files, lab)
        if digest in numbers:
            return digest, "again"
        numbers[digest] = 1 + max(numbers.values(), default=0)
        line.append((work.moment, digest))
        if not check:
            keep_attempt(course, lab, learner, work.files, work.moment, work.name, work.source)
        return digest, "new"

    if there := on_the_desk(course, lab, learner):
        keep(_desk_work(course, lab, learner, there))  # put there by hand: not overwritten
    found = [(work, *keep(work)) for work in works]
    counts = _counting(line, policy_of(course), digest_of(there, lab) if there else "",
                       any(state == "new" for *_, state in found))
    if not check:
        chosen = next(a for a in attempts_of(course, lab, learner) if a.digest == counts)
        place_attempt(course, lab, learner, chosen)
    limits, account = limits_from(course.limits), []
    for work, digest, state in found:
        notebook = read_submission(work.files[f"{lab}.ipynb"], limits)
        account.append(Collected(work, numbers[digest], state, digest == counts,
                                 tuple(notebook.repairs), claimed_learner(notebook),
                                 claimed_lab(notebook)))
    return account


def _counting(line: list[tuple[datetime | None, str]], policy: str, there: str,
              news: bool) -> str:
    """Digest of the attempt that counts.

    line [(time, digest) as collected]; there [digest of what lies in `submitted/`]; news [an
    attempt is new]. The best is only known after grading; until then the last one lies there.
    """
    if policy == "best" and there and not news:
        return there
    timed = [pair for pair in line if pair[0] is not None]
    ordered = sorted(timed, key=lambda pair: pair[0]) if len(timed) == len(line) else line
    return ordered[0 if policy == "first" else -1][1]


def _desk_work(course: Course, lab: str, learner: str, files: dict[str, bytes]) -> HandedIn:
    stamp = course.submitted / learner / lab / STAMP
    text = read_plain(stamp, 100).decode("utf-8", "replace").strip() if is_plain(stamp) else ""
    return HandedIn(learner, lab, files, read_moment(text), (), f"{lab}.ipynb", "submitted/")
