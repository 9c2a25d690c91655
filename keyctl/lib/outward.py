"""Asking an address that a person typed, without being led to a place that only this machine reaches.

The name is looked up once, every address found is judged, and the connection goes to the very address that
was judged; the name stays in the certificate's check and the Host header. Nothing is followed, and from the
first byte to the last of the answer all ends within a time and a size; how long the look-up may take, the
system's resolver says. Refusals name the place: the person who typed it reads them.
"""

import ipaddress
import re
import socket
import ssl
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from threading import Timer
from typing import Final
from urllib.parse import SplitResult, urlsplit

from keyctl.lib.errors import Refused

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network
Resolver = Callable[[str, int], Iterable[str]]

# A name of labels, the last of which begins with a letter: a number in any spelling is no name (the resolver
# of the system reads 2130706433, 0x7f.1 and 0177.1 as addresses).
NAME: Final = re.compile(r"(?:[a-z0-9_](?:[a-z0-9_-]{0,61}[a-z0-9])?\.)*[a-z](?:[a-z0-9-]{0,61}[a-z0-9])?\.?")
LONGEST_NAME: Final = 253
LONGEST_URL: Final = 2_000
CHUNK: Final = 8_192
# What Python's own table lacks of the registries of special addresses (RFC 6890), and one that a cloud keeps
# for its metadata though it looks open.
NEVER: Final = tuple(
    map(ipaddress.ip_network, ("192.0.0.0/24", "192.88.99.0/24", "3fff::/20", "168.63.129.16/32"))
)
# Within it every IPv6 address stands for a network that is routed for all (RFC 4291, 2.4).
ROUTED: Final = ipaddress.ip_network("2000::/3")
# Addresses that carry another inside: 6to4 (RFC 3056) and Teredo (RFC 4380).
CARRIERS: Final = tuple(map(ipaddress.ip_network, ("2002::/16", "2001::/32")))


@dataclass(frozen=True)
class Rules:
    """``inside``: networks of the house that an administrator named, which would be refused otherwise."""

    ports: frozenset[int] = frozenset({443})
    takes_plain_http: bool = False
    inside: tuple[Network, ...] = ()
    seconds: float = 5.0
    most_bytes: int = 64 * 1024
    trusted: ssl.SSLContext | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Answer:
    """``body`` is cut at the rules' size; an answer that leads elsewhere is told as it is, never followed."""

    status: int
    body: bytes = field(repr=False)


class Unreachable(Refused):
    """The place cannot be asked, or does not answer as it should."""


DEFAULT: Final = Rules()


def look_up(name: str, port: int) -> list[str]:
    found = socket.getaddrinfo(name, port, type=socket.SOCK_STREAM)
    return [str(each[4][0]) for each in found]


def ask(
    url: str,
    *,
    method: str = "POST",
    body: bytes = b"",
    headers: Mapping[str, str] | None = None,
    rules: Rules = DEFAULT,
    resolver: Resolver = look_up,
) -> Answer:
    """One request to the place, and its answer."""
    place = checked_url(url, rules)
    name, port = place.hostname or "", port_of(place)
    address = judged_address(name, port, rules, resolver)
    connection = _Connection(name, port, address, place.scheme == "https", rules)
    path = (place.path or "/") + (f"?{place.query}" if place.query else "")
    try:
        with connection.ended_in_time():
            connection.request(method, path, body, {**(headers or {}), "Connection": "close"})
            return connection.answer()
    except ssl.SSLError:
        raise Unreachable(f"{name} does not prove who it is: its certificate does not hold.") from None
    except (OSError, HTTPException, ValueError):
        raise Unreachable(f"{name} does not answer as it should within {rules.seconds:g} seconds.") from None
    finally:
        connection.close()


def checked_url(url: str, rules: Rules) -> SplitResult:
    """The address taken apart; refused with what is wrong about it."""
    if len(url) > LONGEST_URL or not url.isascii() or re.search(r"[\x00-\x20\x7f\\]", url):
        raise Unreachable("The address holds signs that belong to none. Copy it anew.")
    try:
        place = urlsplit(url)
        port = port_of(place)
    except ValueError:
        raise Unreachable("The address cannot be read. Copy it anew.") from None
    if place.scheme not in ({"https", "http"} if rules.takes_plain_http else {"https"}):
        raise Unreachable("The address must begin with https://.")
    if place.username is not None or place.password is not None:
        raise Unreachable("The address must hold no name and password of a person.")
    if port not in rules.ports:
        raise Unreachable(f"Port {port} is not asked. Use {', '.join(map(str, sorted(rules.ports)))}.")
    return place


def port_of(place: SplitResult) -> int:
    return place.port if place.port is not None else {"http": 80}.get(place.scheme, 443)


def judged_address(name: str, port: int, rules: Rules, resolver: Resolver) -> str:
    """The one address that is connected to. Where any that was found is not allowed, none is."""
    found = [_address(text) for text in _addresses_of(name, port, resolver)]
    if not found:
        raise Unreachable(f"{name} is not known. Look for a slip in the address.")
    if not all(is_allowed(address, rules.inside) for address in found):
        raise Unreachable(f"{name} leads to a place inside a network, which is not asked.")
    return str(found[0])


def is_allowed(address: Address, inside: tuple[Network, ...] = ()) -> bool:
    """Whether an address is one of the open network, or one that the administrator named.

    >>> [is_allowed(ipaddress.ip_address(text)) for text in ("93.184.216.34", "10.0.0.1", "::ffff:127.0.0.1")]
    [True, False, False]
    """
    address = getattr(address, "ipv4_mapped", None) or address
    if any(address in network for network in inside):
        return True
    if address.is_multicast or address.is_reserved or not address.is_global:
        return False
    if address.version == 6 and (address not in ROUTED or any(address in each for each in CARRIERS)):
        return False
    return not any(address in network for network in NEVER)


def _addresses_of(name: str, port: int, resolver: Resolver) -> Iterable[str]:
    try:
        return [str(ipaddress.ip_address(name))]
    except ValueError:
        pass
    if len(name) > LONGEST_NAME or not NAME.fullmatch(name):
        raise Unreachable("The address names no host. Write its name as it stands in its certificate.")
    try:
        return list(resolver(name, port))
    except (OSError, UnicodeError):
        return []


def _address(text: str) -> Address:
    """Without the zone of a link: what is bound to a link is refused anyhow."""
    return ipaddress.ip_address(text.partition("%")[0])


class _Connection(HTTPConnection):
    """To the address that was judged, under the name that was typed."""

    def __init__(self, name: str, port: int, address: str, is_secure: bool, rules: Rules) -> None:
        super().__init__(name, port, timeout=rules.seconds)
        self._address, self._rules = address, rules
        self._trusted = (rules.trusted or ssl.create_default_context()) if is_secure else None
        self.default_port = 443 if is_secure else 80
        self._open: socket.socket | None = None
        self._is_cut = False

    def connect(self) -> None:
        self.sock = self._open = socket.create_connection((self._address, self.port), self.timeout)
        if self._trusted is not None:
            secured = self._trusted.wrap_socket(
                self.sock, server_hostname=self.host, do_handshake_on_connect=False
            )
            self.sock = self._open = secured
        if self._is_cut:
            # The time ended while there was no socket to shut.
            raise TimeoutError
        if self._trusted is not None:
            secured.do_handshake()

    @contextmanager
    def ended_in_time(self) -> Iterator[None]:
        """A server that sends a byte now and then would keep each single wait short, and all of them long."""
        timer = Timer(self._rules.seconds, self._cut)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()

    def answer(self) -> Answer:
        told = self.getresponse()
        body = b""
        while len(body) < self._rules.most_bytes and (chunk := told.read1(CHUNK)):
            body += chunk
        if self._is_cut:
            raise TimeoutError
        return Answer(told.status, body[: self._rules.most_bytes])

    def _cut(self) -> None:
        self._is_cut = True
        if self._open is not None:
            try:
                self._open.shutdown(socket.SHUT_RDWR)
            except OSError:
                return
