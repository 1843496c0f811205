"""Names of other machines, and of this one."""

import ipaddress


def is_loopback(host: str) -> bool:
    """Tell whether a host is this machine, by its name or address alone.

    >>> [is_loopback(host) for host in ("localhost", "127.0.0.2", "::1", "mail.quillmere.example")]
    [True, True, True, False]
    """
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
