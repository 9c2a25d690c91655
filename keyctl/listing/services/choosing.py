"""How a person wants a list. Nobody else sees it and nothing hangs on it, so history has no line of it."""

from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.listing.declaring import List
from keyctl.listing.models import ListChoice, SavedView


@transaction.atomic
def choose_columns(*, actor: User, found: List, columns: Sequence[str]) -> ListChoice:
    """In the order given; none brings back what the list shows by itself."""
    wanted = [name for name in dict.fromkeys(columns) if name in found.by_column]
    if columns and not wanted:
        raise Refused(_("Choose one column at least."))
    choice = _choice(actor, found)
    choice.columns = wanted
    choice.save(update_fields=["columns"])
    return choice


@transaction.atomic
def open_with(*, actor: User, found: List, view: SavedView | None) -> ListChoice:
    """The view that the list shows where its address asks for nothing; none for the whole list."""
    choice = _choice(actor, found)
    choice.opens_with = view
    choice.save(update_fields=["opens_with"])
    return choice


def _choice(actor: User, found: List) -> ListChoice:
    choice, _made = ListChoice.objects.get_or_create(person=actor, list_name=found.name)
    return choice
