"""Reading what a learning platform exports: folders, zip files, single notebooks.

Everything in a source comes from strangers. Nothing is unpacked: members are read into memory,
each up to a limit, and only under names that are safe. What is not read is refused by name.
"""

import os
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from io import BytesIO
from pathlib import Path, PurePosixPath

from coldbench.errors import InputError

MOST_MEMBERS = 50_000
BOMB_RATIO, BOMB_BYTES = 200, 5_000_000  # text in notebooks shrinks to a fiftieth at most
LONGEST_NAME = 1_000
# Not LZMA: its own header says how much memory unpacking takes, up to 4 GB.
_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2)
# What Python cannot unpack, such as an encrypted file, is a kind of RuntimeError.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, struct.error)


@dataclass(frozen=True)
class Piece:
    """One file of a source.

    source [the source's name]; name [path inside it, with /]; read [gives its bytes; raises
    InputError with the reason]; moment [when it was last changed, None: unknown]; size [bytes].
    """

    source: str
    name: str
    read: Callable[[], bytes] = field(repr=False)
    moment: datetime | None = None
    size: int = 0


@dataclass
class Harvest:
    """The files of a source that may be read, and (name, reason) of those refused.

    archive [an open archive that pieces are read from; `close` it after reading].
    """

    pieces: list[Piece] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    archive: zipfile.ZipFile | None = None

    def close(self) -> None:
        """Close the archive, if there is one."""
        if self.archive is not None:
            self.archive.close()


def harvest(source: Path, largest: int, zone: tzinfo = UTC) -> Harvest:
    """List a source's files.

    source [folder, zip file or single file]; largest [bytes of one file]; zone [of the times in
    zip files, which do not say]. Raises InputError when there is no such source or it is a link,
    or no readable archive.
    """
    if source.is_dir():
        return _from_folder(source, largest)
    if not source.is_file():
        raise InputError(f"{source}: there is no such file or folder")
    if source.suffix.lower() == ".zip":
        return from_archive(source, source.name, largest, zone)
    found = Harvest()
    _take_file(found, source, source.name, source.name, largest)
    for path in _journals_beside(source):
        _take_file(found, path, source.name, path.name, largest)
    return found


def _journals_beside(notebook: Path) -> list[Path]:
    """Journals that go with a single notebook: of its name, or the folder's, if it lies alone."""
    if notebook.suffix != ".ipynb":
        return []
    alone = len(list(notebook.parent.glob("*.ipynb"))) == 1
    names = [notebook.with_suffix(".jsonl").name, *(["journal.jsonl"] if alone else [])]
    return [path for path in (notebook.parent / name for name in names) if path.is_file()]


def from_archive(file: Path | bytes, shown: str, largest: int, zone: tzinfo = UTC) -> Harvest:
    """List an archive's members [file: a path, or the bytes of an archive in an archive]."""
    try:
        archive = zipfile.ZipFile(BytesIO(file) if isinstance(file, bytes) else file)
    except (*_BROKEN, OSError) as error:
        raise InputError(f"{shown}: this is not a zip file that can be read ({error})") from None
    members = archive.infolist()
    if len(members) > MOST_MEMBERS:
        archive.close()
        raise InputError(f"{shown}: it holds {len(members):,} files; at most {MOST_MEMBERS:,} are "
                         "read from one archive")
    found, seen = Harvest(archive=archive), {}
    for member in members:
        name = member.orig_filename
        why = _bad_path(name.removesuffix("/"))
        if not why and (member.is_dir() or _is_clutter(name)):
            continue
        why = why or _bad_member(member, largest) or _clash(name, seen)
        if why:
            found.refused.append((shown_name(name), why))
        else:
            found.pieces.append(Piece(shown, name, _member_reader(archive, member, largest),
                                      _member_time(member, zone), member.file_size))
    return found


def _member_reader(archive: zipfile.ZipFile, member: zipfile.ZipInfo,
                   largest: int) -> Callable[[], bytes]:
    def read() -> bytes:
        try:
            with archive.open(member) as stream:
                return stream.read(largest + 1)
        except (*_BROKEN, OSError) as error:
            raise InputError(f"it cannot be unpacked ({error})") from None

    return read


def _bad_path(name: str) -> str:
    """Say why a path is not safe; empty when it is."""
    parts = name.split("/")
    if name.startswith("/") or "\\" in name or (len(name) > 1 and name[1] == ":"):
        return "its path is absolute or of another system"
    if ".." in parts:
        return "its path leads out of the folder"
    if not name.isprintable() or len(name) > LONGEST_NAME:
        return "its name is too long or holds characters that cannot be shown"
    if "" in parts or "." in parts:
        return "its path has an empty part"
    return ""


def _is_clutter(name: str) -> bool:
    """Hidden files, and what file managers add to archives."""
    return any(part.startswith((".", "__")) for part in name.split("/"))


def _bad_member(member: zipfile.ZipInfo, largest: int) -> str:
    kind = stat.S_IFMT(member.external_attr >> 16)
    if kind == stat.S_IFLNK:
        return "it is a link"
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        return "it is a device, not a file"
    if member.flag_bits & 1:
        return "it is encrypted"
    if member.compress_type not in _PACKINGS:
        return "it is packed in a way that is not read here; pack it as an ordinary zip file"
    if (member.file_size > BOMB_BYTES
            and member.file_size > BOMB_RATIO * max(1, member.compress_size)):
        return (f"it would unpack from {member.compress_size / 1e3:,.0f} kB to "
                f"{member.file_size / 1e6:,.0f} MB, as an archive bomb does")
    return _too_large(member.file_size, largest)


def _too_large(size: int, largest: int) -> str:
    return f"it is larger than the {largest / 1e6:g} MB that are read" if size > largest else ""


def _clash(name: str, seen: dict[str, str]) -> str:
    """Two names that are one on some systems: the second is refused."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    first = seen.setdefault(folded, name)
    if first is name:
        return ""
    return ("it stands twice in the archive" if first == name
            else f"its name differs only in case from {first!r}")


def _member_time(member: zipfile.ZipInfo, zone: tzinfo) -> datetime | None:
    """When a member was changed: the exact time in UTC if the archive has it.

    Source of the fields: Info-ZIP, appnote of the ZIP format, extra field 0x5455.
    """
    extra, place = member.extra, 0
    while place + 4 <= len(extra):
        kind, length = struct.unpack_from("<HH", extra, place)
        if kind == 0x5455 and length >= 5 and place + 9 <= len(extra) and extra[place + 4] & 1:
            return datetime.fromtimestamp(struct.unpack_from("<i", extra, place + 5)[0], UTC)
        place += 4 + length
    try:
        return datetime(*member.date_time, tzinfo=zone).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _from_folder(folder: Path, largest: int) -> Harvest:
    found = Harvest()
    for base, folders, names in os.walk(folder, followlinks=False):
        linked = [name for name in folders if os.path.islink(os.path.join(base, name))]
        folders[:] = sorted(name for name in folders
                            if name not in linked and not name.startswith((".", "__")))
        for name in sorted([*names, *linked]):
            path = Path(base) / name
            if not name.startswith((".", "__")):
                relative = PurePosixPath(path.relative_to(folder)).as_posix()
                _take_file(found, path, folder.name or str(folder), relative, largest)
    return found


def _take_file(found: Harvest, path: Path, source: str, name: str, largest: int) -> None:
    about = path.lstat()
    why = ("it is a link" if stat.S_ISLNK(about.st_mode)
           else "it is a device, not a file" if not stat.S_ISREG(about.st_mode)
           else _bad_path(name) or _too_large(about.st_size, largest))
    if why:
        found.refused.append((shown_name(name), why))
        return
    moment = datetime.fromtimestamp(about.st_mtime, UTC)
    found.pieces.append(Piece(source, name, _file_reader(path, largest), moment, about.st_size))


def _file_reader(path: Path, largest: int) -> Callable[[], bytes]:
    def read() -> bytes:
        try:
            return read_plain(path, largest + 1)
        except OSError as error:
            raise InputError(f"it cannot be read ({error.strerror})") from None

    return read


def read_plain(path: Path, most: int) -> bytes:
    """Read a file's first bytes; never through a link put there meanwhile. Raises OSError."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    with os.fdopen(os.open(path, flags), "rb") as stream:
        return stream.read(most)


def shown_name(name: str) -> str:
    """A stranger's file name as it may stand on a screen: no control characters, not too long.

    >>> shown_name("a\\x1b[31mred.ipynb")
    'a?[31mred.ipynb'
    """
    plain = "".join(char if char.isprintable() else "?" for char in name)
    return plain if len(plain) <= 120 else f"{plain[:117]}…"
