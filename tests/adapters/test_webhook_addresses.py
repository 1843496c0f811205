"""Which addresses are of the public internet."""

from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address, ip_network

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from parchd_adapters.webhook.addresses import plainly_special, special


@pytest.mark.parametrize(
    "address",
    [
        "0.0.0.0",
        "10.0.0.1",
        "100.64.0.1",
        "100.127.255.255",
        "127.0.0.1",
        "127.255.255.254",
        "168.63.129.16",
        "169.254.169.254",
        "172.16.0.1",
        "172.31.255.255",
        "192.0.0.8",
        "192.0.2.1",
        "192.88.99.1",
        "192.168.1.1",
        "198.18.0.1",
        "198.19.255.255",
        "198.51.100.1",
        "203.0.113.1",
        "224.0.0.1",
        "240.0.0.1",
        "255.255.255.255",
        "::",
        "::1",
        "::127.0.0.1",
        "::ffff:127.0.0.1",
        "::ffff:192.168.1.1",
        "64:ff9b::10.0.0.1",
        "64:ff9b:1::1",
        "100::1",
        "2001::1",
        "2001:db8::1",
        "2002:7f00:1::1",
        "3fff::1",
        "5f00::1",
        "fc00::1",
        "fd00:ec2::254",
        "fe80::1",
        "fec0::1",
        "ff02::1",
    ],
)
def test_an_address_for_special_use_is_not_public(address: str) -> None:
    assert special(ip_address(address))


@pytest.mark.parametrize(
    "address",
    [
        "1.1.1.1",
        "9.255.255.255",
        "100.63.255.255",
        "100.128.0.0",
        "172.15.255.255",
        "172.32.0.0",
        "198.20.0.0",
        "223.255.255.255",
        "::ffff:9.9.9.9",
        "64:ff9b::9.9.9.9",
        "2a00::1",
        "2600::1",
    ],
)
def test_what_lies_beside_is_public(address: str) -> None:
    assert special(ip_address(address)) == ""


def of_network(network: str) -> st.SearchStrategy[IPv4Address | IPv6Address]:
    span = ip_network(network)
    return st.integers(0, span.num_addresses - 1).map(lambda offset: span[offset])


@given(of_network("0.0.0.0/0") | of_network("::/0") | of_network("2000::/3") | of_network("::ffff:0:0/96"))
@example(IPv4Address("192.0.0.1"))
@example(IPv6Address("2001:20::1"))
def test_nothing_is_called_public_that_python_does_not_call_global(address: IPv4Address | IPv6Address) -> None:
    """Python keeps the registries of its own; what it knows of late is allowed to be stricter here."""
    carried = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    if special(address) == "" and address not in IPv6Network("64:ff9b::/96"):
        judged = carried or address
        assert judged.is_global
        assert not judged.is_multicast


@pytest.mark.parametrize("host", ["receiver.quillmere.example", "localhost.quillmere.example", "9.9.9.9", "2a00::1"])
def test_a_name_tells_nothing_before_it_is_looked_up(host: str) -> None:
    assert plainly_special(host) == ""
