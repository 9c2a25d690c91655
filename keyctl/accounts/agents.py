"""Where a request comes from, in words that a person knows again."""

from allauth.core.internal.httpkit import get_client_ip
from django.http import HttpRequest

# The first that fits: most browsers name their ancestors too.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("Chrom", "Chrome"),
    ("Safari", "Safari"),
)
MACHINES = (
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("CrOS", "ChromeOS"),
    ("Windows", "Windows"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)


def address_of(request: HttpRequest) -> str | None:
    return get_client_ip(request)


def browser_of(request: HttpRequest) -> str:
    agent = request.headers.get("User-Agent", "")
    browser = next((name for sign, name in BROWSERS if sign in agent), "A browser")
    machine = next((name for sign, name in MACHINES if sign in agent), "")
    return f"{browser} on {machine}" if machine else browser
