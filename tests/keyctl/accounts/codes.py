"""The codes of an app, worked out here by RFC 4226 (5.3) and RFC 6238 (4.2), by nothing of the product."""

import base64
import hashlib
import hmac
import time
from typing import Any

from django.test import Client

from keyctl.accounts.models import User
from tests.signing import sign_in

APP, CODES, SECOND = (
    "/account/factors/app/",
    "/account/factors/recovery-codes/",
    "/account/sign-in/second-factor/",
)


def code_of(secret: bytes, at: float, digits: int = 6) -> str:
    mac = hmac.new(secret, int(at // 30).to_bytes(8, "big"), hashlib.sha1).digest()
    at_byte = mac[19] & 15
    return str(int.from_bytes(mac[at_byte : at_byte + 4], "big") % 2**31 % 10**digits).zfill(digits)


def secret_on(page: Any) -> bytes:
    """As a person types it off the page."""
    return base64.b32decode(page.context["secret"].replace(" ", ""))


def add_app(client: Client, user: User) -> bytes:
    """The person signs in and adds an app, whose secret comes back; this half minute's code is used by it."""
    sign_in(client, user)
    secret = secret_on(client.get(APP))
    assert client.post(APP, {"code": code_of(secret, time.time())}).status_code == 302
    return secret


def next_code(secret: bytes) -> str:
    """Of the half minute to come: it is taken already, and was surely not used."""
    return code_of(secret, time.time() + 30)


def make_codes(client: Client) -> list[str]:
    return [code.replace(" ", "") for code in client.post(CODES).context["codes"]]
