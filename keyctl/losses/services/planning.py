"""Working out ways to rekey, side by side, as a job; and what work takes and costs at a site."""

from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.selectors import by_whom
from keyctl.audit.services import record
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.losses.access import DECIDERS, RATERS, WORKERS
from keyctl.losses.models import LossCase, WorkRates
from keyctl.losses.planning.plans import PLAN, keep_plans, plans_for
from keyctl.losses.services.locking import State, locked_case, tell
from keyctl.places.access import require_role
from keyctl.places.models import Site

PLANNERS = (*DECIDERS, *WORKERS)
DOING = gettext_lazy("Working out ways to rekey")


@transaction.atomic
def make_plans(*, actor: User, case: LossCase) -> Job:
    """Start the work. It reads every bitting and every pin that the lost keys have to do with."""
    case = locked_case(actor, case, None, *PLANNERS, states=[State.OPEN])
    if Job.objects.unfinished().about(case).filter(kind=PLAN).exists():
        raise Conflict(
            _("Plans for {case} are being worked out already; the job tells how far it is.").format(case=case)
        )
    if not case.look:
        raise Refused(
            _("What the lost keys of {case} open is not known yet. Look at that first.").format(case=case)
        )
    words = f"had plans worked out for {in_english(case)}; all keys and pins concerned are read"
    tell(actor, case, "planned", words)
    return start_job(
        actor=actor,
        kind=PLAN,
        site=case.site,
        parameters={"case": str(case.pk)},
        subjects=[case],
        back_url=reverse("losses:plans", args=[case.pk]),
        about=in_english(case),
    )


def run_plans(running: Running) -> dict[str, Any]:
    """The work of the job. It only reads until it keeps its plans, so that after a stop it begins anew."""
    case = LossCase.objects.with_names().get(pk=running.parameters["case"])
    require_role(running.actor, case.site, *PLANNERS)
    plans = plans_for(case, lambda done, total: running.step(done, total, DOING))
    with transaction.atomic():
        fresh = locked_case(running.actor, case, None, *PLANNERS, states=[State.OPEN])
        if fresh.look != case.look:
            raise Refused(
                _("What the lost keys open was looked at again meanwhile. Work the plans out anew.")
            )
        keep_plans(fresh, plans, running.actor)
        save_next(fresh)
    possible = sum(plan.secret is not None for plan in plans)
    return {
        "sentence": _("Worked out {plans} plans for {case}; {possible} can be carried out.").format(
            plans=len(plans), case=case, possible=possible
        ),
        "url": reverse("losses:plans", args=[case.pk]),
        "facts": {_("Plans"): len(plans), _("Possible"): possible},
    }


@transaction.atomic
def set_rates(*, actor: User, site: Site, version: int, **figures: Any) -> WorkRates:
    """``version`` is 0 where the figures to begin with were looked at."""
    require_role(actor, site, *RATERS)
    Site.objects.select_for_update().get(pk=site.pk)
    rates = WorkRates.objects.filter(site=site).first()
    if (rates.version if rates else 0) != version:
        about = by_whom(rates) if rates else ""
        raise Conflict(
            _("The work rates of {site} have changed since you looked at them{about}. Look again.").format(
                site=site, about=about
            )
        )
    rates = rates or WorkRates(site=site, version=0)
    for name, value in figures.items():
        setattr(rates, name, value)
    rates.changed_by, rates.changed_at, rates.version = actor, timezone.now(), rates.version + 1
    rates.save()
    record(
        actor=actor,
        verb="loss.rates_set",
        sentence=f"set the work rates of {site}",
        site_id=site.pk,
        subjects=[rates],
        detail={name: str(value) for name, value in figures.items()},
    )
    return rates
