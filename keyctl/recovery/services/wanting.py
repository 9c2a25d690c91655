"""What a case shows, as the gate wants it: the case is the work, its approval the second person."""

from collections.abc import Callable, Sequence

from django.db.models import Model
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlKeyCase
from keyctl.reveals.grounds import Ground
from keyctl.reveals.things import Secret, Seen

KIND = "recovery"


def shown_for(
    case: ControlKeyCase,
    *,
    words: str,
    verb: str,
    open: Callable[[], Seen],
    approved_by: User | None = None,
    about: Sequence[Model] = (),
) -> Secret[Seen]:
    """The control key takes the case's own second person; whoever opened the case or read a core is none."""
    return Secret(
        kind=KIND,
        thing=case,
        words=words,
        sites=(case.site,),
        open=open,
        verb=f"control_key.{verb}",
        url=reverse("recovery:detail", args=[case.pk]),
        roles=WORKERS,
        is_high=approved_by is not None,
        ground=Ground("for the lost control key", second=approved_by),
        about=(case.system, *about),
    )
