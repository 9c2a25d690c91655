"""Acts on many rows as a person does them, and rows as they are, whole."""

from typing import Any

from django.db.models import Model

from keyctl.accounts.models import User
from keyctl.listing import services
from keyctl.listing.declaring import find_list
from keyctl.listing.models import BulkAct, BulkRow


def begun(actor: User, name: str, act: str, rows: list[Any] | None, **said: str) -> BulkAct:
    found = find_list(name)
    assert found is not None
    wanted = found.act(act)
    assert wanted is not None
    pks = None if rows is None else [row.pk for row in rows]
    return services.begin_act(actor=actor, found=found, act=wanted, said=said, rows=pks)


def tried(actor: User, name: str, act: str, rows: list[Any] | None, **facts: Any) -> BulkAct:
    bulk = begun(actor, name, act, rows)
    return services.try_act(actor=actor, bulk=bulk, facts={key: str(value) for key, value in facts.items()})


def done(actor: User, name: str, act: str, rows: list[Any] | None, **facts: Any) -> BulkAct:
    return services.do_act(actor=actor, bulk=tried(actor, name, act, rows, **facts))


def states(bulk: BulkAct) -> dict[Any, str]:
    return dict(bulk.rows.values_list("row_id", "state"))


def row(bulk: BulkAct, thing: Model) -> BulkRow:
    return bulk.rows.get(row_id=thing.pk)


def whole(model: type[Model], *, besides: tuple[str, ...] = ()) -> dict[Any, dict[str, Any]]:
    """Every column of every row, by a query that the code under test does not make."""
    return {
        values["id"]: {name: value for name, value in values.items() if name not in besides}
        for values in model._base_manager.values()
    }
