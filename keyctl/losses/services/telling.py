"""Mail about a loss: officers of every site concerned, and who manages a building whose doors stand open.

A message names neither door nor key nor serial: it leads to the case, where the reader's role decides.
"""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy
from keyctl.losses.access import sites_of
from keyctl.losses.figures import Figures
from keyctl.losses.models import LossCase, LossProof, LossReport, LostCopy
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.models import BuildingManager
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at


def tell_lost(case: LossCase, copies: Iterable[KeyCopy], *, is_new: bool) -> None:
    """To the officers, once for each report."""
    lost = list(copies)
    facts = {"copies": len(lost), "is_new": is_new}
    key = f"loss-{case.pk}-{min(copy.pk.hex for copy in lost)}-{case.version}"
    for officer in officers_of(case):
        _send(case, officer, "loss_reported", facts, once_key=f"{key}-{officer.pk}")


def tell_reported(report: LossReport) -> None:
    """A holder's own report waits: whoever confirms it hears of it."""
    site = report.copy.site
    for user in people_at(site, Role.KEY_DESK):
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="loss",
            template="loss_own_report",
            facts={"site": str(site), "path": reverse("losses:report", args=[report.pk])},
            site=site,
            about=[report.holder],
            once_key=f"loss-report-{report.pk}-{user.pk}",
        )


def tell_exposed(case: LossCase) -> None:
    """To who manages a building with doors that are due, once for a case; after a look found them."""
    counted = Figures.of(case)
    due = counted.by("building", lambda cell: cell.is_exposed and cell.in_door and cell.is_due)
    managers: dict[User, set[UUID]] = {}
    for row in BuildingManager.objects.filter(building__in=list(due)).select_related("user", "building"):
        managers.setdefault(row.user, set()).add(row.building_id)
    for user, buildings in managers.items():
        doors = sum(due[str(building)] for building in buildings)
        facts = {"doors": doors, "buildings": len(buildings)}
        _send(case, user, "loss_building", facts, once_key=f"loss-{case.pk}-building-{user.pk}")


def tell_found(case: LossCase, found: LostCopy) -> None:
    for officer in officers_of(case):
        _send(case, officer, "loss_found", {}, once_key=f"loss-{case.pk}-found-{found.pk}-{officer.pk}")


def tell_let_in_again(case: LossCase, proof: LossProof) -> None:
    """A case that was proven and whose lost keys turn something again."""
    for officer in officers_of(case):
        facts = {"left": proof.left}
        _send(case, officer, "loss_again", facts, once_key=f"loss-{case.pk}-again-{proof.pk}-{officer.pk}")


def officers_of(case: LossCase) -> list[User]:
    """At the site of the loss, and at every site where the lost keys open something."""
    return list(people_at(sites_of(case), Role.OFFICER))


def _send(case: LossCase, to: User, template: str, facts: dict[str, Any], *, once_key: str) -> None:
    send_notice(
        to=mail_of(to),
        name=to.display_name,
        kind="loss",
        template=template,
        facts=facts | {"case": str(case), "site": str(case.site), "path": _path(case)},
        site=case.site,
        about=[case],
        once_key=once_key,
    )


def _path(case: LossCase) -> str:
    return reverse("losses:detail", args=[case.pk])
