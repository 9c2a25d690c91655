"""A row of each table that the scenes leave empty, as far as its constraints take one of plain values.

It hangs on the scenes' first row of what it belongs to, so that a page that lists such rows has some to list.
"""

from typing import Any

from django.db import IntegrityError, models, transaction
from django.utils import timezone

from tests.budgets.growing import grown
from tests.scenes.base import Base

# What decides how pages behave, or means nothing without a secret of its own.
LEFT_EMPTY = {
    "account.EmailAddress",
    "account.EmailConfirmation",
    "accounts.WayBack",
    "api.KeptAnswer",
    "api.Usage",
    "directory.EndedSignIn",
    "mfa.Authenticator",
    "socialaccount.SocialAccount",
    "socialaccount.SocialApp",
    "socialaccount.SocialToken",
    "webhooks.Told",
}


def add(base: Base) -> None:
    for _ in range(2):  # some of these hang on others
        for model in grown():
            if model._meta.label not in LEFT_EMPTY and not model._base_manager.exists():
                _add_one(model, base)


def _add_one(model: type[models.Model], base: Base) -> None:
    """Where a constraint wants more than plain values, none."""
    try:
        with transaction.atomic():
            row = model(**{field.attname: value for field, value in _values(model, base)})
            plain: models.QuerySet[Any] = models.QuerySet(model)
            plain.bulk_create([row])
    except IntegrityError:
        pass


def _values(model: type[models.Model], base: Base) -> Any:
    for field in model._meta.concrete_fields:
        if field.remote_field and not (field.null and field.unique):
            yield field, _first(field.remote_field.model, base)
        elif not (field.null or field.has_default() or field.primary_key):
            yield field, _plain(field)


def _first(model: type[models.Model], base: Base) -> Any:
    """What routes lead to, where it is of that kind."""
    about = (base.cast.north, base.system, base.change, base.core, base.housing, base.housing.door)
    known = (*about, base.holder, base.cabinet, base.copy)
    named: Any = next((each for each in known if type(each) is model), None)
    # Else the oldest, as it lies in its table: by identifier it would be another one each time.
    row = named or next(iter(model._base_manager.order_by()[:1]), None)
    return row.pk if row else None


def _plain(field: models.Field[Any, Any]) -> Any:
    if field.choices:
        return next(value for value, _ in field.flatchoices)
    kinds: dict[type[models.Field[Any, Any]], Any] = {
        models.UUIDField: "6f1c5a52-0000-4000-8000-000000000001",
        models.JSONField: {},
        models.BinaryField: b"",
        models.DateTimeField: timezone.now(),
        models.DateField: timezone.localdate(),
        models.BooleanField: False,
        models.IntegerField: 1,
        models.FloatField: 1.0,
        models.DecimalField: 1,
    }
    return next((value for kind, value in kinds.items() if isinstance(field, kind)), "x")
