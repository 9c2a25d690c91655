"""Where sealed values are kept: a column of bytes that the vault can find again."""

from collections.abc import Iterator, Sequence
from typing import Any

from django.apps import apps
from django.db import models


class SealedField(models.BinaryField):  # type: ignore[type-arg]  # it has parameters for the checker alone
    """Bytes from ``vault.seal`` of this very row and field; to the database and its migrations, bytes."""

    def deconstruct(self) -> tuple[str, str, Sequence[Any], dict[str, Any]]:
        name, _, arguments, options = super().deconstruct()
        return name, "django.db.models.BinaryField", arguments, options


def sealed_fields() -> Iterator[tuple[type[models.Model], list[str]]]:
    """Every stored model that holds sealed values, with the names of those fields."""
    for model in apps.get_models():
        names = [field.name for field in model._meta.concrete_fields if isinstance(field, SealedField)]
        if names:
            yield model, names
