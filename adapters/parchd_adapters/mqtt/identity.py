"""The name under which a broker keeps our session."""

import zlib

_SAFE_LENGTH = 23


def default_client_id(site: str, source: str) -> str:
    """Make a client id that stays the same over restarts, with 23 letters and digits at most (3.1.1, section 3.1.3.1).

    >>> default_client_id("Quillmere Orchard", "field")
    'parchdfield7cb1d0e4'
    """
    tail = f"{zlib.crc32(f'{site}/{source}'.encode()):08x}"
    readable = "".join(c for c in source if c.isascii() and c.isalnum())
    return f"parchd{readable}"[: _SAFE_LENGTH - len(tail)] + tail
