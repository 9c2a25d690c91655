"""Which hosts keyctl speaks to: those that administrators of every site in question let it speak to."""

import ipaddress
from collections.abc import Iterable
from urllib.parse import urlsplit

from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused
from keyctl.lib.outward import Network, Rules, checked_url, port_of
from keyctl.places.models import Site
from keyctl.webhooks.models import AllowedHost, Endpoint

# A program that has much to do first answers and then works, as the specification tells it.
SECONDS = 10.0
MOST_BYTES = 4_096
EVERY_PORT = frozenset(range(1, 65_536))
# Networks that nobody routes outside (RFC 1918, RFC 4193).
OF_HOUSES: tuple[Network, ...] = tuple(
    map(ipaddress.ip_network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7"))
)


def checked_address(url: str) -> str:
    """The address, where it can be asked at all; whether it is allowed is another question."""
    checked_url(url, Rules(ports=EVERY_PORT))
    if urlsplit(url).fragment:
        raise Refused(_("The address must hold no part after #: no server is told of it."))
    return url


def rules_for(endpoint: Endpoint, sites: Iterable[Site]) -> Rules:
    """How its address is asked. Refused where a site's administrators do not let it."""
    allowed = _allowed(endpoint.url, sites)
    networks: tuple[Network, ...] = tuple(
        {ipaddress.ip_network(host.network) for host in allowed if host.network}
    )
    return Rules(
        ports=frozenset({host.port for host in allowed}),
        inside=networks,
        seconds=SECONDS,
        most_bytes=MOST_BYTES,
    )


def _allowed(url: str, sites: Iterable[Site]) -> list[AllowedHost]:
    place, asked = urlsplit(url), {site.pk: site for site in sites}
    name = _plain(place.hostname or "")
    rows = AllowedHost.objects.filter(site__in=asked, name=name, port=port_of(place))
    allowed = list(rows)
    for missing in asked.keys() - {host.site_id for host in allowed}:
        raise Refused(
            _(
                "{name}, port {port_of}, is not on the list of hosts that {asked} lets keyctl speak to. "
                "Allow it there first."
            ).format(name=name, port_of=port_of(place), asked=asked[missing])
        )
    return allowed


def read_name(text: str) -> str:
    """A host's name as it stands in the list: no address, no path, no port."""
    name = _plain(text.strip())
    if not name or name != _plain(urlsplit(f"https://{name}/").hostname or ""):
        raise Refused(_("Write the name of the host alone, such as hooks.example.org."))
    checked_url(f"https://{name}/", Rules())
    return name


def read_network(text: str) -> str:
    """One network inside the house, as it is usually written; empty where there is none. Never this machine,
    or what only this machine reaches."""
    try:
        network = ipaddress.ip_network(text.strip()) if text.strip() else None
    except ValueError:
        raise Refused(_("“{text}” is no network. Write one like 10.1.2.0/24.").format(text=text)) from None
    if network is not None and not any(_is_inside(network, house) for house in OF_HOUSES):
        raise Refused(
            _("{network} is no network inside a house: those are {str}.").format(
                network=network, str=", ".join(map(str, OF_HOUSES))
            )
        )
    return str(network or "")


def _is_inside(network: Network, other: Network) -> bool:
    return network.version == other.version and network.subnet_of(other)  # type: ignore[arg-type]


def _plain(name: str) -> str:
    return name.casefold().rstrip(".")
