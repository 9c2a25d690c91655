"""Which rows an act is about: those that were ticked, or all that the list shows as it is narrowed."""

from collections.abc import Collection
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number
from keyctl.listing.access import held_roles, offered_acts
from keyctl.listing.declaring import Act, List, Said
from keyctl.listing.models import BulkAct, BulkRow

MOST_ROWS = 20_000
WRITTEN_AT_ONCE = 1000
LONGEST_LABEL = 200


@transaction.atomic
def begin_act(
    *, actor: User, found: List, act: Act, said: Said, rows: Collection[UUID] | None, query: str = ""
) -> BulkAct:
    """``rows`` are those that were ticked, none stands for all that match; foreign ones are not there."""
    if act not in offered_acts(found, held_roles(actor)):
        raise PermissionDenied
    wanted = found.rows(actor, said if rows is None else {})
    if rows is not None:
        wanted = wanted.filter(pk__in=rows)
    chosen = list(wanted.order_by(*found.worked_by)[: MOST_ROWS + 1])
    if not chosen:
        raise Refused(_("Nothing was chosen. Tick the rows, or choose all that match."))
    if len(chosen) > MOST_ROWS:
        raise Refused(
            _("At most {most} rows go in one act. Narrow the list.").format(most=as_number(MOST_ROWS))
        )
    bulk = BulkAct.objects.create(list_name=found.name, act=act.name, actor=actor, query=query[:600])
    kept = (
        BulkRow(bulk=bulk, position=nth, row_id=row.pk, label=str(row)[:LONGEST_LABEL])
        for nth, row in enumerate(chosen, 1)
    )
    BulkRow.objects.bulk_create(kept, batch_size=WRITTEN_AT_ONCE)
    return bulk
