"""Every sealed value of the installation: which key sealed it, whether it opens, and sealing it anew.

No plaintext leaves here. Values are found by the type of their field, so that none is forgotten.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models, transaction
from django.db.models.functions import Coalesce, Length, Substr
from django.utils.translation import gettext as _

from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.vault import ring
from keyctl.vault import services as vault
from keyctl.vault.errors import NoSuchKey, Tampered
from keyctl.vault.fields import sealed_fields

BATCH = 500
# A batch is held in memory with its values, opened and sealed; photos and files are large.
MOST_BYTES = 16 * 1024 * 1024
LOOKED_AT_ONCE = 20
# The version and the name of the key, which stand before each value.
HEAD_BYTES = 1 + vault.NAME_BYTES

Say = Callable[[str], None]


@dataclass
class Inspection:
    """How many values each key sealed, and those that do not open, by table, row and field."""

    by_key: Counter[str] = field(default_factory=Counter)
    closed: list[str] = field(default_factory=list)

    @property
    def total(self) -> int:
        return self.by_key.total()


def inspect_values(say: Say) -> Inspection:
    """Open every value once; what it says is forgotten at once."""
    found = Inspection()
    for model, names in sealed_fields():
        before = found.total
        for row in model._base_manager.only("pk", *names).order_by("pk").iterator(LOOKED_AT_ONCE):
            for name in names:
                _inspect(row, name, found)
        say(f"{model._meta.label}: {found.total - before} values")
    return found


def _inspect(row: models.Model, name: str, found: Inspection) -> None:
    value = getattr(row, name)
    if value is None:
        return
    found.by_key[vault.key_of(value)] += 1
    try:
        vault.unseal_bytes(row, name)
    except (Tampered, NoSuchKey):
        found.closed.append(_place(row, name))


def _place(row: models.Model, name: str) -> str:
    return f"{row._meta.db_table} {row.pk} {name}"


def sealed_count() -> int:
    """How many there are, without a key to open them."""
    return sum(
        model._base_manager.exclude(**{name: None}).count()
        for model, names in sealed_fields()
        for name in names
    )


def stale_count() -> int:
    """How many rows hold a value that another key sealed than the one in use."""
    return sum(len(batch) for model, names in sealed_fields() for batch in _stale(model, names))


def reseal(say: Say) -> tuple[int, list[str]]:
    """Seal everything by the key in use; returns how many rows were, and the values that do not open.

    What was done stays done: after a stop the rest is found again. What does not open is left as it is.
    """
    if ring.current() is None:
        raise Refused(_("The vault has no data key yet. Run `manage.py vault init` first."))
    done, closed = 0, list[str]()
    for model, names in sealed_fields():
        for batch in _stale(model, names):
            done += _reseal_batch(model, names, batch, closed)
            say(f"{model._meta.label}: {done} rows sealed anew so far")
    return done, closed


@transaction.atomic
def _reseal_batch(
    model: type[models.Model], names: Sequence[str], pks: Sequence[Any], closed: list[str]
) -> int:
    # Not by the model's own manager: an append-only one refuses, though what a row says stays the same.
    rows: models.QuerySet[models.Model] = models.QuerySet(model)
    held = rows.select_for_update().filter(pk__in=pks).only("pk", *names).order_by("pk")
    changed = [row for row in held if _reseal_row(row, names, closed)]
    if not changed:
        return 0
    rows.bulk_update(changed, names, batch_size=100)
    record(
        actor=None,
        verb="vault.sealed_anew",
        sentence=f"sealed {len(changed)} rows of {model._meta.label} by another key",
        detail={"table": model._meta.db_table, "rows": len(changed), "key": ring.current()},
    )
    return len(changed)


def _reseal_row(row: models.Model, names: Sequence[str], closed: list[str]) -> bool:
    """Each of its values, whatever became of the one before."""
    return sum(_reseal_value(row, name, closed) for name in names) > 0


def _reseal_value(row: models.Model, name: str, closed: list[str]) -> bool:
    value = getattr(row, name)
    if value is None or vault.key_of(value) == ring.current():
        return False
    try:
        setattr(row, name, vault.seal_bytes(row, name, vault.unseal_bytes(row, name)))
    except (Tampered, NoSuchKey):
        closed.append(_place(row, name))
        return False
    return True


def _stale(model: type[models.Model], names: Sequence[str]) -> Iterator[list[Any]]:
    """Identifiers of rows with a value of another key, in batches; the values themselves are not read."""
    heads = {
        f"head_of_{name}": Substr(name, 1, HEAD_BYTES, output_field=models.BinaryField()) for name in names
    }
    size = sum((Coalesce(Length(name), 0) for name in names), models.Value(0))
    rows = models.QuerySet(model).annotate(**heads, sealed_bytes=size).order_by("pk")
    batch, weight = list[Any](), 0
    for pk, bytes_of_row, *found in list(rows.values_list("pk", "sealed_bytes", *heads)):
        if all(head is None or vault.key_of(head) == ring.current() for head in found):
            continue
        if batch and (len(batch) == BATCH or weight + bytes_of_row > MOST_BYTES):
            yield batch
            batch, weight = [], 0
        batch.append(pk)
        weight += bytes_of_row
    if batch:
        yield batch
