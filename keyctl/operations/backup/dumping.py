"""Every row as a line of JSON, table by table, with counts and digests; the form that no database owns.

    {"backup": 1, "migrations": [...], "made_at": ...}
    {"table": "cores_core", "columns": [["id", "identifier"], ...]}
    ["0b1c…", "K7…", ...]                     a row
    {"rows": 812, "digest": "…"}              the end of a table
    {"checkpoint": {...}}                     signed checkpoints of the history
    {"end": "…", "signed_by": "…", "signature": "…"}

The digest of a table is the sum of the SHA-256 of its lines, the names in objects sorted: the same in
whatever order rows come, and PostgreSQL keeps no order of names.
"""

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from django.db import connections
from django.db.models import CharField
from django.db.models.functions import Cast

from keyctl.audit import signing
from keyctl.audit.checkpoints import Checkpoint, latest_checkpoint
from keyctl.lib.errors import Refused
from keyctl.operations.backup.tables import Table
from keyctl.operations.backup.values import IDENTIFIER

AT_ONCE = 2000
FEW = 20
DIGEST_BYTES = 32

_encode: Callable[[Any], str] = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_encode_sorted: Callable[[Any], str] = json.JSONEncoder(
    ensure_ascii=False, separators=(",", ":"), sort_keys=True
).encode


@dataclass
class Tally:
    """How many rows there are and what they say together."""

    rows: int = 0
    total: int = 0

    def add(self, table: Table, row: list[Any], line: bytes) -> None:
        told = as_sorted_line(row) if table.has_json else line
        self.rows += 1
        self.total += int.from_bytes(hashlib.sha256(told).digest(), "big")

    @property
    def digest(self) -> str:
        return f"{self.total % 2 ** (8 * DIGEST_BYTES):0{2 * DIGEST_BYTES}x}"

    def as_fields(self) -> dict[str, Any]:
        return {"rows": self.rows, "digest": self.digest}


def as_line(fields: Any) -> bytes:
    return _encode(fields).encode()


def as_sorted_line(fields: Any) -> bytes:
    """The same for equal values, whatever order a database keeps names in."""
    return _encode_sorted(fields).encode()


def rows_of(table: Table, using: str) -> Iterator[tuple[list[Any], bytes]]:
    """Its rows, and each as a line."""
    for values in values_of(table, using):
        yield values, as_line(values)


def values_of(table: Table, using: str) -> Iterator[list[Any]]:
    """Its rows by identifier; some thousands in memory at a time, and few where one may be a photo."""
    keeps_hex = connections[using].vendor == "sqlite"
    changes = [
        (index, kind.written)
        for index, kind in enumerate(table.kinds)
        if kind.written and not (keeps_hex and kind is IDENTIFIER)
    ]
    rows = table.model._base_manager.using(using).order_by("pk").values_list(*_columns(table, keeps_hex))
    try:
        for row in rows.iterator(FEW if table.has_bytes else AT_ONCE):
            values = list(row)
            for index, change in changes:
                if values[index] is not None:
                    values[index] = change(values[index])
            yield values
    except (AttributeError, TypeError, ValueError) as error:
        raise Refused(
            f"A row of {table.name} holds what cannot be there ({type(error).__name__}), so there "
            "is no backup of it. Run `manage.py check_estate`; restore the row from an older backup."
        ) from error


def _columns(table: Table, keeps_hex: bool) -> list[Any]:
    """SQLite keeps identifiers as they stand in the file: millions need not be taken apart and joined."""
    if not keeps_hex:
        return [field.attname for field in table.fields]
    return [
        Cast(field.attname, CharField()) if kind is IDENTIFIER else field.attname
        for field, kind in zip(table.fields, table.kinds, strict=True)
    ]


def tally_of(table: Table, using: str = "default") -> Tally:
    tally = Tally()
    for row, line in rows_of(table, using):
        tally.add(table, row, line)
    return tally


def dump_table(table: Table, using: str) -> Iterator[bytes]:
    yield as_line({"table": table.name, "columns": table.columns})
    tally = Tally()
    for row, line in rows_of(table, using):
        tally.add(table, row, line)
        yield line
    yield as_line(tally.as_fields())


def end_of(digest: bytes) -> bytes:
    """Signed by the key of the history: who has the public key of backups alone can forge none. Where that
    key is missing there is still a backup; bringing it back says that nobody signed it."""
    signed_by, signature = "", ""
    if _has_signing_key():
        signed_by, signature = signing.public_key().hex(), signing.sign(signed_text(digest)).hex()
    return as_line({"end": digest.hex(), "signed_by": signed_by, "signature": signature})


def _has_signing_key() -> bool:
    """Made here in an installation that never signed; one that did must get its own key back."""
    if not signing.has_key() and latest_checkpoint() is None:
        with suppress(OSError):
            signing.make_key()
    return signing.has_key()


def signed_text(digest: bytes) -> bytes:
    return b"keyctl backup 1\n" + digest


def checkpoint_line(checkpoint: Checkpoint) -> bytes:
    return as_line({"checkpoint": checkpoint})
