"""What keeps the daemon small and its rounds short."""

import gc

_M_ARENA_MAX = -8


def share_memory() -> bool:
    """Let all threads allocate from one place; false where the C library has no such setting.

    GNU's keeps a reserve for each thread, with us 10 MB in all. Call it before the first thread is started.

    Source: mallopt(3), M_ARENA_MAX.
    """
    import ctypes

    try:
        return bool(ctypes.CDLL(None).mallopt(_M_ARENA_MAX, 1))
    except (OSError, AttributeError):
        return False


def settle() -> None:
    """Take what is there now for permanent: looking through it for garbage takes 5 % of the time under load."""
    gc.collect()
    gc.freeze()
