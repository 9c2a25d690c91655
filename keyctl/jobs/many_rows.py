"""Acts on many rows of a list, which lie below: long ones go through the queue, old ones are forgotten."""

from datetime import timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.routines import register_routine
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.language import in_sentence
from keyctl.lib.numbers import as_number
from keyctl.listing.access import declared, sharing_sites
from keyctl.listing.later import set_starter
from keyctl.listing.models import BulkAct, BulkRow
from keyctl.listing.services import carry_on, sweep

MANY_ROWS = "listing.act"


def register() -> None:
    register_kind(MANY_ROWS, gettext_lazy("Work on many rows of a list"), work_on_rows, file_roles=())
    set_starter(start)
    register_routine(
        "listing.sweep", gettext_lazy("Forget old acts on many rows"), sweep, every=timedelta(days=1)
    )


def start(actor: User, bulk: BulkAct) -> Job:
    """It stands in the list of jobs of the first site of the person's; its rows may be of several."""
    found, act = declared(bulk)
    site = sharing_sites(actor, found).order_by("code").first()
    if site is None:
        raise PermissionDenied
    return start_job(
        actor=actor,
        kind=MANY_ROWS,
        site=site,
        parameters={"bulk": str(bulk.pk)},
        subjects=[bulk],
        back_url=reverse("listing:act", args=[bulk.pk]),
        about=act.name,
    )


def work_on_rows(running: Running) -> dict[str, Any]:
    """Each row says itself how far it is, so a stop needs no checkpoint of its own."""
    bulk = BulkAct.objects.get(pk=running.parameters["bulk"])
    bulk = carry_on(bulk, lambda done, total: running.step(done, total, _("Row by row")))
    counts = {
        state.label: number for state in BulkRow.State if (number := bulk.rows.filter(state=state).count())
    }
    sentence = f"{bulk.get_state_display()}: " + ", ".join(
        f"{in_sentence(label)} {as_number(number)}" for label, number in counts.items()
    )
    return {"sentence": sentence, "facts": {str(name): number for name, number in counts.items()}}
