"""The part ``files``: what a sealed file takes in the database, and what sealing it anew costs.

A photo is as large as the tablet may send at most; what photos of real doors weigh is not known here.
With an envelope each file has a key of its own, and only that key is sealed by the vault.
"""

import os
import uuid
from typing import Any

from tests.bench.report import Report, best_of
from tests.paper.telling import tell

PHOTOS, KEY_BYTES = 40, 32


def run(report: Report, _largest: int) -> None:
    from tests.paper.server import product

    with product():
        from keyctl.field.services.photos import MOST_BYTES
        from keyctl.vault import ring
        from tests.paper import filling

        filling.begin()
        ring.make_first_keys()
        _stored(report, MOST_BYTES)
        _sealed(report, MOST_BYTES)


def _stored(report: Report, size: int) -> None:
    """As ``field`` keeps them, homeless ones, which need no door."""
    from django.utils import timezone

    from keyctl.accounts.models import User
    from keyctl.field.models import FieldPhoto
    from keyctl.vault import services as vault
    from tests.paper.filling import run as run_sql

    by, facts = User.objects.get(username="smith"), {"size": size, "width": 1600, "height": 1200}
    rows = [
        FieldPhoto(id=uuid.uuid4(), sha256="0" * 64, received_at=timezone.now(), sent_by=by, **facts)
        for _ in range(PHOTOS)
    ]
    for row in rows:
        row.content = vault.seal_bytes(row, "content", os.urandom(size))
    table = FieldPhoto._meta.db_table
    before = run_sql("SELECT pg_total_relation_size(%s::regclass)", [table])[0][0]
    wrote, _ = best_of(1, lambda: _save(rows))
    took = run_sql("SELECT pg_total_relation_size(%s::regclass)", [table])[0][0] - before
    tell(report, f"a photo of {size:,} bytes in its table", took / PHOTOS / size, "x", "its own size is 1")
    tell(report, f"a photo of {size:,} bytes written in a transaction", wrote / PHOTOS * 1e3, "ms")
    read, _ = best_of(3, lambda: [bytes(FieldPhoto.objects.get(pk=row.pk).content) for row in rows])
    tell(report, f"a photo of {size:,} bytes read", read / PHOTOS * 1e3, "ms")


def _save(rows: list[Any]) -> int:
    for row in rows:
        row.save(force_insert=True)
    return len(rows)


def _sealed(report: Report, size: int) -> None:
    from keyctl.field.models import FieldPhoto
    from keyctl.vault import services as vault

    row: Any = FieldPhoto(id=uuid.uuid4())
    for name, content in (("a photo", os.urandom(size)), ("the key of a file", os.urandom(KEY_BYTES))):
        row.content = vault.seal_bytes(row, "content", content)
        seconds, _ = best_of(20, lambda: vault.seal_bytes(row, "content", vault.unseal_bytes(row, "content")))
        tell(
            report,
            f"{name} of {len(content):,} bytes opened and sealed anew",
            seconds * 1e6,
            "µs",
            f"{len(row.content):,} bytes sealed",
        )
