"""Marking a core as one for a time, giving it longer, letting it stay; and what time brings by itself."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import locked_cores
from keyctl.interim.access import MARKERS
from keyctl.interim.models import Interim
from keyctl.lib.days import day
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held, save_next
from keyctl.lib.language import in_english
from keyctl.lib.retold import kept_text
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at

LEFT = gettext_lazy("The core left the door.")
# Days before the core must leave at which locksmiths are told; then at each of the days after it.
TOLD_BEFORE = (7, 1)
TOLD_AFTER = (1, 7, 14, 28)
LOOKED_AFTER = kept_text(
    gettext_noop(
        "Marks ended because the core left: {left}. Mails about days that come or have gone: {told}."
    )
)


@transaction.atomic
def mark_interim(*, actor: User, core: Core, until: date, why: str) -> Interim:
    """The core that is in a door now must leave it by that day."""
    core = locked_cores([core.pk])[core.pk]
    require_role(actor, core.site, *MARKERS)
    housing = core.housing
    if housing is None:
        raise Refused(
            _("Core {core} is {whereabouts}. Mark it when it is in the door that it must leave.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    refuse_day(until)
    why = refuse_no_reason(why)
    end_of_those_that_left(core)
    if other := Interim.objects.filter(core=core, ended_at__isnull=True).first():
        raise Conflict(
            _("Core {core} is already marked to leave by {until}. Change that day.").format(
                core=core, until=day(other.until)
            )
        )
    made = Interim(core=core, housing=housing, site=core.site, until=until, why=why, marked_by=actor)
    made.save(force_insert=True)
    _tell(actor, made, "marked", f"marked core {core} in {in_english(housing)} to leave by {until:%-d %b %Y}")
    return made


@transaction.atomic
def change_day(*, actor: User, interim: Interim, version: int, until: date, why: str) -> Interim:
    interim = _locked(actor, interim, version)
    refuse_day(until)
    interim.until, interim.why = until, refuse_no_reason(why)
    save_next(interim, "until", "why")
    _tell(actor, interim, "changed", f"moved the day core {interim.core} must leave to {until:%-d %b %Y}")
    return interim


@transaction.atomic
def let_stay(*, actor: User, interim: Interim, version: int, outcome: str) -> Interim:
    """The core stays for good: there is no day any more."""
    interim = _locked(actor, interim, version)
    if not outcome.strip():
        raise Refused(_("Say why it may stay: who looks at the door later reads it."))
    interim.ended_at, interim.ended_by, interim.outcome = timezone.now(), actor, outcome.strip()
    save_next(interim, "ended_at", "ended_by", "outcome")
    _tell(actor, interim, "ended", f"let core {interim.core} stay in {in_english(interim.housing)}")
    return interim


def come_round(now: datetime) -> str:
    """The routine: ends the marks of cores that left, and tells locksmiths of days that come or have gone."""
    left = end_of_those_that_left()
    today = timezone.localdate(now)
    told = 0
    for interim in Interim.objects.standing().with_names():
        days = (today - interim.until).days
        if days in TOLD_AFTER or -days in TOLD_BEFORE:
            told += _remind(interim, today)
    return LOOKED_AFTER.format(left=left, told=told)


def end_of_those_that_left(core: Core | None = None) -> int:
    gone = Interim.objects.filter(ended_at__isnull=True).exclude(core__housing=F("housing"))
    # A core outside a door has no housing, which is unequal to nothing in a database.
    gone = gone | Interim.objects.filter(ended_at__isnull=True, core__housing__isnull=True)
    if core is not None:
        gone = gone.filter(core=core)
    wanted = list(gone.values_list("pk", flat=True))
    return Interim.objects.filter(pk__in=wanted).update(
        ended_at=timezone.now(), outcome=LEFT, version=F("version") + 1
    )


def refuse_day(until: date) -> None:
    if until < timezone.localdate():
        raise Refused(_("{until} is past. Choose a later day.").format(until=day(until)))


def refuse_no_reason(why: str) -> str:
    if not why.strip():
        raise Refused(_("Say what the core is there for: the building work, or whose it is."))
    return why.strip()


def _remind(interim: Interim, today: date) -> int:
    sent = [
        send_notice(
            to=mail_of(smith),
            name=smith.display_name,
            kind="interim",
            template="interim_core",
            facts={"interim": interim, "is_overdue": interim.until < today},
            site=interim.site,
            about=[interim.core],
            once_key=f"interim:{interim.pk}:{today}:{smith.pk}",
        )
        for smith in people_at(interim.site, Role.LOCKSMITH)
    ]
    return sum(notice is not None for notice in sent)


def _locked(actor: User, interim: Interim, version: int) -> Interim:
    found = held(Interim.objects.with_names(), interim.pk)
    require_role(actor, found.site, *MARKERS)
    if found.ended_at is not None:
        raise Conflict(_("This has ended: {outcome} Nothing was changed.").format(outcome=found.outcome))
    if found.version != version:
        raise Conflict(_("Somebody changed the day since you looked. Look again, then decide."))
    return found


def _tell(actor: User, interim: Interim, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"interim.{verb}",
        sentence=sentence,
        site_id=interim.site_id,
        subjects=[interim.core, interim.housing.door],
        detail={"until": interim.until.isoformat(), "why": interim.why},
    )
