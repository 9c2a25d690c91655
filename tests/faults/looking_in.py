"""The product's own checks of itself, run in a child of the nursery."""

from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.db import connection

from keyctl.audit import signing
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.proofs import export_history
from tests.faults.looking import looking_at


def history() -> list[str]:
    return list(check_history())


def sign() -> str:
    """A checkpoint outside the database; the public key that it is signed by."""
    sign_history()
    return signing.public_key().hex()


def export(file: str) -> int:
    return export_history(Path(file))


def seen(database: str) -> dict[str, Any]:
    """The look of the test's own, for who sees the disk that only the nursery sees."""
    with looking_at(Path(database), "") as look:
        return asdict(look.seen())


def durability() -> str:
    """How the product's own connection waits for the disk."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous" if connection.vendor == "sqlite" else "SHOW synchronous_commit")
        return f"{connection.vendor} {cursor.fetchone()[0]}"
