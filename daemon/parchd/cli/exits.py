"""Exit codes, after sysexits.h where that has one."""

from enum import IntEnum


class Exit(IntEnum):
    """What a command says to its caller."""

    OK = 0
    FAILED = 1
    USAGE = 2
    INTERNAL = 70
    STORE = 74
    CONFIG = 78

    @property
    def meaning(self) -> str:
        return _MEANINGS[self]


_MEANINGS = {
    Exit.OK: "all is well",
    Exit.FAILED: "the command could not do all it was asked",
    Exit.USAGE: "wrong arguments",
    Exit.INTERNAL: "the daemon did not stop cleanly",
    Exit.STORE: "the journal cannot be used",
    Exit.CONFIG: "the configuration is broken",
}
