"""Sheets of an order that are too large to wait for.

What they show is opened by the gate at once, as for a small one, and lies sealed in the job that sets them.
"""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.numbers import as_number
from keyctl.orders.models import WorkOrder
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.prints.frame import Composed
from keyctl.prints.press.packing import pack, unpack

KIND = "prints.sheets"


def register_large() -> None:
    # Not even another locksmith: whoever asked was asked for their ground.
    register_kind(KIND, gettext_lazy("Set sheets"), set_large, file_roles=(Role.LOCKSMITH,), for_starter=True)


def start_large(*, actor: User, order: WorkOrder, composed: Composed, name: str, back_url: str) -> Job:
    """The caller's service has asked for the role, and the gate for the ground."""
    parameters = {"html": composed.html, "areas": pack(composed.areas), "mark": composed.mark, "name": name}
    return start_job(
        actor=actor,
        kind=KIND,
        site=order.site,
        parameters=parameters,
        subjects=[order],
        back_url=back_url,
        about=f"{name}, order {order.number}",
    )


def set_large(running: Running) -> dict[str, Any]:
    """The job: short enough to begin anew after a stop."""
    require_role(running.actor, running.job.site, Role.LOCKSMITH)
    given = running.parameters
    composed = Composed(given["html"], unpack(given["areas"]), given["mark"])
    total = len(composed.areas) + 1

    def told(done: int) -> None:
        running.step(done, total, _("Setting {done} of {total}").format(done=done, total=total - 1))

    running.step(0, total, _("Setting the first page"))
    content = composed.pdf(told)
    running.attach(f"{given['name']}.pdf", "application/pdf", content)
    return {
        "sentence": _("{given}: {content} bytes of PDF.").format(
            given=given["name"], content=as_number(len(content))
        ),
        "facts": {_("File"): given["name"]},
    }
