"""What every answer tells the browser beside its policy of contents: files, redirects and errors too."""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

GetResponse = Callable[[HttpRequest], HttpResponseBase]

PERMISSIONS = "Permissions-Policy"
# What a browser would grant a page of its own host; passkeys and the clipboard stay, for people use them.
DENIED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
)

ALWAYS = {
    PERMISSIONS: ", ".join(f"{feature}=()" for feature in DENIED),
    # No page of another host may show, embed or read what is answered here.
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Permitted-Cross-Domain-Policies": "none",
}


def permitting(feature: str) -> str:
    """The policy of a page that may use one of them.

    >>> "camera=(self)" in permitting("camera"), "microphone=()" in permitting("camera")
    (True, True)
    """
    return ALWAYS[PERMISSIONS].replace(f"{feature}=()", f"{feature}=(self)")


def say_them(get_response: GetResponse) -> GetResponse:
    """Before all others: an answer that one of them gives by itself gets them as well."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        for name, value in ALWAYS.items():
            response.setdefault(name, value)
        return response

    return middleware
