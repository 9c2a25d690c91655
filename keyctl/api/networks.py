"""The networks that a token works from (RFC 4632, RFC 4291), as words parted by blanks."""

from collections.abc import Iterable
from ipaddress import IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

from keyctl.lib.errors import Refused

Network = IPv4Network | IPv6Network

# More are a list of machines, which belongs to a firewall.
MOST = 20


def read_networks(text: str) -> list[Network]:
    """One address is a network of one. Each is named once, in the order in which they came.

    >>> [str(network) for network in read_networks("192.0.2.0/24, 2001:db8::1 192.0.2.0/24")]
    ['192.0.2.0/24', '2001:db8::1/128']
    """
    found = list(dict.fromkeys(_network(word) for word in text.replace(",", " ").split()))
    if len(found) > MOST:
        raise Refused(f"A token is bound to {MOST} networks at most: join them, or make several tokens.")
    return found


def holds(networks: Iterable[Network], address: str | None) -> bool:
    """Whether the address lies in one of them. An IPv4 address may come as IPv6 (RFC 4291, 2.5.5.2).

    >>> inside = read_networks("192.0.2.0/24 2001:db8::/32")
    >>> [holds(inside, text) for text in ("192.0.2.9", "::ffff:192.0.2.9", "2001:db8::5", "192.0.3.9", None)]
    [True, True, True, False, False]
    """
    try:
        found = ip_address((address or "").partition("%")[0])
    except ValueError:
        return False
    if isinstance(found, IPv6Address) and found.ipv4_mapped:
        found = found.ipv4_mapped
    return any(found in network for network in networks)


def _network(word: str) -> Network:
    try:
        return ip_network(word)
    except ValueError:
        pass
    try:
        meant = f"; did you mean {ip_network(word, strict=False)}?"
    except ValueError:
        meant = ": write 192.0.2.0/24 or 2001:db8::/32."
    raise Refused(f"{word[:60]} is no network{meant}")
