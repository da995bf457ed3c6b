"""System calls that a learner's code never needs are refused by the kernel.

A filter in the kernel's own small machine language, kept with the process and all that it
starts. It refuses (error "not permitted") what could trace another process, change mounts and
namespaces, load code into the kernel or reach its keys.

Source: the manual page seccomp(2); numbers of calls from the kernel's tables for x86-64 and
for the generic table that 64-bit ARM uses.
"""

import ctypes
import platform
import struct

from coldbench.grading.kernel import (
    NEW_IPC,
    NEW_MOUNTS,
    NEW_NAMES,
    NEW_NETWORK,
    NEW_PROCESSES,
    NEW_USERS,
    SET_NO_NEW_PRIVILEGES,
    SET_SECCOMP,
    control_process,
)

# name → number on (x86-64, 64-bit ARM); None where a machine lacks the call
REFUSED: dict[str, tuple[int | None, int | None]] = {
    "ptrace": (101, 117), "syslog": (103, 116), "acct": (163, 89), "settimeofday": (164, 170),
    "pivot_root": (155, 41), "chroot": (161, 51), "mount": (165, 40), "umount2": (166, 39),
    "swapon": (167, 224), "swapoff": (168, 225), "reboot": (169, 142), "sethostname": (170, 161),
    "setdomainname": (171, 162), "init_module": (175, 105), "delete_module": (176, 106),
    "quotactl": (179, 60), "lookup_dcookie": (212, 18), "add_key": (248, 217),
    "request_key": (249, 218), "keyctl": (250, 219), "kexec_load": (246, 104),
    "migrate_pages": (256, 238), "move_pages": (279, 239), "unshare": (272, 97),
    "perf_event_open": (298, 241), "fanotify_init": (300, 262), "name_to_handle_at": (303, 264),
    "open_by_handle_at": (304, 265), "clock_adjtime": (305, 266), "setns": (308, 268),
    "process_vm_readv": (310, 270), "process_vm_writev": (311, 271), "kcmp": (312, 272),
    "finit_module": (313, 273), "kexec_file_load": (320, 294), "bpf": (321, 280),
    "userfaultfd": (323, 282), "io_uring_setup": (425, 425), "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427), "open_tree": (428, 428), "move_mount": (429, 429),
    "fsopen": (430, 430), "fsconfig": (431, 431), "fsmount": (432, 432), "fspick": (433, 433),
    "pidfd_getfd": (438, 438), "mount_setattr": (442, 442), "iopl": (172, None),
    "ioperm": (173, None), "modify_ldt": (154, None), "uselib": (134, None),
    "vmsplice": (278, 75),
}
_CLONE, _CLONE3, _NO_SUCH_CALL, _NOT_PERMITTED = (56, 220), 435, 38, 1
_MACHINES = {"x86_64": (0xC000_003E, 0), "aarch64": (0xC000_00B7, 1)}
_LOAD, _EQUAL, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x15, 0x35, 0x45, 0x06
_ALLOW, _ERROR, _KILL = 0x7FFF_0000, 0x0005_0000, 0x8000_0000
_NUMBER, _MACHINE, _FIRST_ARGUMENT = 0, 4, 16
_FILTER_MODE = 2


def _step(code: int, value: int, yes: int = 0, no: int = 0) -> bytes:
    return struct.pack("=HBBI", code, yes, no, value)


def filter_program(machine: str) -> bytes:
    """Make the filter for a machine [as `platform.machine()` says it].

    Raises KeyError for a machine whose numbers are not known here.

    >>> len(filter_program("x86_64")) % 8
    0
    """
    kind, column = _MACHINES[machine]
    refuse, allow = _step(_RETURN, _ERROR | _NOT_PERMITTED), _step(_RETURN, _ALLOW)
    steps = [_step(_LOAD, _MACHINE), _step(_EQUAL, kind, 1, 0), _step(_RETURN, _KILL),
             _step(_LOAD, _NUMBER),
             # Calls of the 32-bit kind on 64 bits have other numbers, so none is let through.
             _step(_AT_LEAST, 0x4000_0000, 0, 1), refuse]
    for numbers in REFUSED.values():
        if numbers[column] is not None:
            steps += [_step(_EQUAL, numbers[column], 0, 1), refuse]
    # clone3 hides its flags from a filter; without it, libraries go back to clone.
    steps += [_step(_EQUAL, _CLONE3, 0, 1), _step(_RETURN, _ERROR | _NO_SUCH_CALL)]
    new = NEW_USERS | NEW_PROCESSES | NEW_MOUNTS | NEW_NAMES | NEW_IPC | NEW_NETWORK
    steps += [_step(_EQUAL, _CLONE[column], 0, 3), _step(_LOAD, _FIRST_ARGUMENT),
              _step(_ANY_BIT, new, 0, 1), refuse, allow]
    return b"".join(steps)


class _Program(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("steps", ctypes.c_void_p)]


def missing_for_filter() -> str:
    """Say why no filter can be set here; empty when it can."""
    return "" if platform.machine() in _MACHINES else (
        f"the calls of this machine, {platform.machine()}, are not listed")


def refuse_calls() -> bool:
    """Set the filter for this process and all it will start; returns whether it is in force."""
    if missing_for_filter():
        return False
    steps = filter_program(platform.machine())
    kept = ctypes.create_string_buffer(steps, len(steps))
    program = _Program(len(steps) // 8, ctypes.addressof(kept))
    try:
        control_process(SET_NO_NEW_PRIVILEGES, 1)
        control_process(SET_SECCOMP, _FILTER_MODE, ctypes.addressof(program))
    except (OSError, AttributeError):  # a kernel without filters, a system without prctl
        return False
    return True
