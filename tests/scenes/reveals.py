"""A permission that waits, a look, and a list of a whole system that somebody asked for."""

from typing import Any

from keyctl.keys.reveal import cuts_to_show
from keyctl.prints.lists.exporting import ask_export
from keyctl.prints.models import Export
from keyctl.reveals.services import ask_to_see
from tests import factories
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    cast = base.cast
    secret = cuts_to_show(factories.symbol(base.system, "A"))
    asked = ask_to_see(actor=cast.locksmith, secret=secret, reason="It was lost")
    export = ask_export(
        actor=cast.locksmith,
        system=base.system,
        site=cast.north,
        kind=Export.Kind.BITTINGS,
        form=Export.Form.WORKBOOK,
        reason="For the safe",
    )
    return {
        **{f"reveals:{name}": asked.pk for name in ("permission", "grant", "decline", "withdraw")},
        **{f"reveals:{name}": cast.north.pk for name in ("more", "limits")},
        "reveals:ask": {"kind": "core", "pk": base.core.pk},
        "prints:make": export.pk,
        "prints:site": cast.north.pk,
    }
