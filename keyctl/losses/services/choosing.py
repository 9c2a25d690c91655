"""Choosing a plan: an officer decides, and orders follow at once, or as a job where there are many."""

from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.losses.access import DECIDERS
from keyctl.losses.carrying import Carrying
from keyctl.losses.models import LossCase, RekeyPlan
from keyctl.losses.planning.plans import CARRY, mark_of, secret_of
from keyctl.losses.services.locking import State, locked_case, refuse_alone, tell
from keyctl.places.access import has_role
from keyctl.places.models import Site

# Cores whose orders are written while somebody waits for the page.
MOST_AT_ONCE = 200


@transaction.atomic
def choose_plan(*, actor: User, case: LossCase, plan: RekeyPlan, version: int) -> Job | None:
    """The plan becomes keys, cores and orders. Returns the job that writes them; None where all is done."""
    case = locked_case(actor, case, version, *DECIDERS, states=[State.OPEN])
    plan = RekeyPlan.objects.select_for_update().get(pk=plan.pk, case=case)
    refuse_alone(actor, case, "chooses the plan")
    _refuse_own(actor, case, plan)
    _refuse_stale(case, plan)
    _refuse_elsewhere(actor, plan)
    # A case that was taken up again: what was chosen before is done with, and history tells of it.
    RekeyPlan.objects.filter(case=case).update(chosen_by=None, chosen_at=None)
    plan.chosen_by, plan.chosen_at = actor, timezone.now()
    plan.save(update_fields=["chosen_by", "chosen_at"])
    case.state = State.PLANNED
    save_next(case, "state")
    tell(
        actor,
        case,
        "plan_chosen",
        f"chose a plan for {in_english(case)}: {plan.label}",
        [plan],
        cores=plan.figures["cores"],
    )
    if plan.figures["cores"] > MOST_AT_ONCE:
        return _start(actor, case, plan)
    Carrying(actor, plan).run()
    return None


def _refuse_own(actor: User, case: LossCase, plan: RekeyPlan) -> None:
    if case.has_master and plan.made_by_id == actor.pk:
        raise Refused(
            _(
                "You had these plans worked out, and a master or control key is concerned: another security "
                "officer chooses."
            )
        )


def _refuse_stale(case: LossCase, plan: RekeyPlan) -> None:
    if plan.secret is None:
        raise Refused(_("This plan cannot be carried out; it says why. Choose another one."))
    secret = secret_of(plan)
    mark = mark_of(list(map(UUID, secret["keyed"])), set(map(UUID, secret["systems"])))
    if plan.look != case.look or mark != secret["mark"]:
        raise Conflict(
            _(
                "Cores were pinned, keys were made or the doors were looked at again since this plan was "
                "worked out. Have the plans worked out anew."
            )
        )


def _refuse_elsewhere(actor: User, plan: RekeyPlan) -> None:
    for site in Site.objects.filter(pk__in=plan.figures["sites"]):
        if not has_role(actor, site, *DECIDERS):
            raise Refused(
                _(
                    "Some of the cores are at {site}, where you are no security officer; an officer of both "
                    "sites chooses, or the plan for the doors that are due."
                ).format(site=site)
            )


def _start(actor: User, case: LossCase, plan: RekeyPlan) -> Job:
    return start_job(
        actor=actor,
        kind=CARRY,
        site=case.site,
        parameters={"plan": str(plan.pk)},
        subjects=[case],
        back_url=reverse("losses:plans", args=[case.pk]),
        about=in_english(case),
    )
