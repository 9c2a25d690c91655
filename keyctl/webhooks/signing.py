"""Signatures of Standard Webhooks 1.0.0: what is signed, by which secrets, and how a secret is written."""

import base64
import hashlib
import hmac
import os
from collections.abc import Sequence
from typing import Final

PREFIX: Final = "whsec_"
SECRET_BYTES: Final = 32


def new_secret() -> str:
    return PREFIX + base64.b64encode(os.urandom(SECRET_BYTES)).decode()


def headers(message_id: str, timestamp: int, body: bytes, secrets: Sequence[str]) -> dict[str, str]:
    """One signature for each secret in force, so that a receiver who knows either believes the message."""
    return {
        "Content-Type": "application/json",
        "User-Agent": "keyctl",
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signature(message_id, timestamp, body, secret) for secret in secrets),
    }


def signature(message_id: str, timestamp: int, body: bytes, secret: str) -> str:
    key = base64.b64decode(secret.removeprefix(PREFIX))
    signed = f"{message_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
