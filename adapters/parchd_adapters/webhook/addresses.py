"""Which addresses lie in the public internet, and what the others are.

Ranges: IANA's registries of special-purpose addresses for IPv4 and IPv6 (RFC 6890 and its updates), multicast
(RFC 5771) and, for IPv6, all that is not global unicast (RFC 4291, 2.4).
"""

from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address
from itertools import starmap

Address = IPv4Address | IPv6Address

_PRIVATE = "a private network"
_LINK = "the local link"
_MACHINE = "this machine"
_SPECIAL = "a range for special use"

_V4 = tuple(
    (IPv4Network(network), what)
    for network, what in (
        ("0.0.0.0/8", _MACHINE),  # RFC 791, 3.2: "this network"; the kernel takes it for this machine
        ("10.0.0.0/8", _PRIVATE),  # RFC 1918
        ("100.64.0.0/10", "a provider's own network"),  # RFC 6598
        ("127.0.0.0/8", _MACHINE),  # RFC 1122, 3.2.1.3
        ("168.63.129.16/32", "the host of a virtual machine"),  # common practice: public, but never leaves the host
        ("169.254.0.0/16", _LINK),  # RFC 3927; metadata of virtual machines, with their keys, is served here
        ("172.16.0.0/12", _PRIVATE),  # RFC 1918
        ("192.0.0.0/24", _SPECIAL),  # RFC 6890, 2.1
        ("192.0.2.0/24", _SPECIAL),  # RFC 5737
        ("192.88.99.0/24", _SPECIAL),  # RFC 7526
        ("192.168.0.0/16", _PRIVATE),  # RFC 1918
        ("198.18.0.0/15", _SPECIAL),  # RFC 2544
        ("198.51.100.0/24", _SPECIAL),  # RFC 5737
        ("203.0.113.0/24", _SPECIAL),  # RFC 5737
        ("224.0.0.0/4", "a group of machines (multicast)"),  # RFC 5771
        ("240.0.0.0/4", _SPECIAL),  # RFC 1112, 4, and the broadcast address
    )
)
_V6 = tuple(
    (IPv6Network(network), what)
    for network, what in (
        ("::/127", _MACHINE),  # RFC 4291, 2.5.2 and 2.5.3
        ("fc00::/7", _PRIVATE),  # RFC 4193
        ("fe80::/10", _LINK),  # RFC 4291, 2.5.6
        ("ff00::/8", "a group of machines (multicast)"),  # RFC 4291, 2.7
        ("2001::/23", _SPECIAL),  # RFC 2928: tunnels, benchmarks, identifiers
        ("2001:db8::/32", _SPECIAL),  # RFC 3849
        ("2002::/16", _SPECIAL),  # RFC 3056: a tunnel to any IPv4 address
        ("3fff::/20", _SPECIAL),  # RFC 9637
    )
)
_GLOBAL_UNICAST = IPv6Network("2000::/3")
_CARRY_V4 = tuple(starmap(IPv6Network, (("::ffff:0:0/96",), ("64:ff9b::/96",))))
"""Addresses that stand for an IPv4 address, in their last 32 bits: RFC 4291, 2.5.5.2, and RFC 6052."""


def special(address: Address) -> str:
    """Say what an address is that is not of the public internet; empty: it is of the public internet.

    >>> [special(ip_address(text)) for text in ("192.168.7.5", "::ffff:169.254.169.254", "9.9.9.9")]
    ['a private network', 'the local link', '']
    """
    if isinstance(address, IPv4Address):
        return next((what for network, what in _V4 if address in network), "")
    if any(address in network for network in _CARRY_V4):
        return special(IPv4Address(int(address) & 0xFFFFFFFF))
    named = next((what for network, what in _V6 if address in network), "")
    return named or ("" if address in _GLOBAL_UNICAST else _SPECIAL)


def plainly_special(host: str) -> str:
    """Say what a host is of which that can be told without asking the DNS; empty: it may be public.

    >>> plainly_special("localhost"), plainly_special("[::1]"), plainly_special("receiver.quillmere.example")
    ('this machine', 'this machine', '')
    """
    name = host.strip("[]").rstrip(".").lower()
    if name == "localhost" or name.endswith(".localhost"):  # RFC 6761, 6.3
        return _MACHINE
    try:
        return special(ip_address(name))
    except ValueError:
        return ""
