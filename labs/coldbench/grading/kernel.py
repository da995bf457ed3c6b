"""Linux system calls that Python does not offer before 3.12, for the walls around a run.

Source: the manual pages unshare(2), setns(2), mount(2), prctl(2), capset(2), user_namespaces(7).
"""

import ctypes
import os
from functools import cache

NEW_MOUNTS, NEW_NAMES, NEW_IPC = 0x0002_0000, 0x0400_0000, 0x0800_0000
NEW_USERS, NEW_PROCESSES, NEW_NETWORK = 0x1000_0000, 0x2000_0000, 0x4000_0000
READ_ONLY, NO_SUID, NO_DEVICES, NO_EXEC, REMOUNT, BIND = 1, 2, 4, 8, 32, 4096
RECURSIVE, PRIVATE = 1 << 14, 1 << 18
SET_PARENT_DEATH_SIGNAL, SET_DUMPABLE, SET_SECCOMP, DROP_FROM_BOUND = 1, 4, 22, 24
SET_NO_NEW_PRIVILEGES, AMBIENT, CLEAR_AMBIENT = 38, 47, 4
_CAPABILITY_VERSION = 0x2008_0522


@cache
def _library() -> ctypes.CDLL:
    return ctypes.CDLL(None, use_errno=True)


def _checked(result: int, what: str) -> None:
    if result < 0:
        number = ctypes.get_errno()
        raise OSError(number, f"{what}: {os.strerror(number)}")


def unshare(kinds: int) -> None:
    """Leave the namespaces of some kinds for new ones; raises OSError."""
    _checked(_library().unshare(ctypes.c_int(kinds)), "unshare")


def enter_namespace(descriptor: int, kind: int) -> None:
    """Enter an open namespace; raises OSError."""
    _checked(_library().setns(ctypes.c_int(descriptor), ctypes.c_int(kind)), "setns")


def mount(source: str, target: str, kind: str, flags: int, options: str = "") -> None:
    """Mount a file system; raises OSError that names the target."""
    words = [word.encode() for word in (source, target, kind)]
    _checked(_library().mount(*words, ctypes.c_ulong(flags), options.encode()), f"mount {target}")


def bind_read_only(source: str, target: str) -> None:
    """Show a file or folder at another place, not to be written; raises OSError."""
    mount(source, target, "", BIND | RECURSIVE)
    mount("", target, "", BIND | REMOUNT | READ_ONLY | NO_SUID | NO_DEVICES)


def control_process(option: int, *values: int) -> None:
    """Call prctl; raises OSError."""
    words = [ctypes.c_ulong(value) for value in (*values, 0, 0, 0, 0)[:4]]
    _checked(_library().prctl(ctypes.c_int(option), *words), f"prctl {option}")


def drop_capabilities() -> None:
    """Give up every capability, for good and for all that is started from here."""
    control_process(AMBIENT, CLEAR_AMBIENT)
    for number in range(64):
        try:
            control_process(DROP_FROM_BOUND, number)
        except OSError:  # this kernel knows no more of them
            break
    header = (ctypes.c_uint32 * 2)(_CAPABILITY_VERSION, 0)
    nothing = (ctypes.c_uint32 * 6)()
    _checked(_library().capset(header, nothing), "capset")
