"""Who decides in whose place, from one day until another."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.deciders import WORKERS
from keyctl.approvals.models import Substitute
from keyctl.audit.services import record
from keyctl.lib.days import day
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Building, Membership, Site
from keyctl.places.roles import Role

MOST_DAYS = 366
# A substitute holds one of the roles that the person decides with.
DECIDING = (Role.MANAGER, Role.OFFICER)


@transaction.atomic
def name_substitute(
    *,
    actor: User,
    site: Site,
    person: User,
    stands_in: User,
    since: date,
    until: date,
    building: Building | None = None,
) -> Substitute:
    """Everybody names their own; an administrator of the site names anybody's."""
    if actor.pk != person.pk:
        require_role(actor, site, Role.ADMINISTRATOR)
    _refuse_people(site, person, stands_in)
    _refuse_days(since, until)
    if building is not None and building.site_id != site.pk:
        raise Refused(
            _("{building} is not at {site}. Choose a building of the site, or none for all of them.").format(
                building=building, site=site
            )
        )
    made = Substitute.objects.create(
        site=site,
        building=building,
        person=person,
        stands_in=stands_in,
        since=since,
        until=until,
        named_by=actor,
    )
    where = f" in {building}" if building else ""
    days = f"from {since:%-d %b %Y} until {until:%-d %b %Y}"
    _record(actor, made, "substitute.named", f"named {stands_in} to decide for {person}{where}, {days}")
    return made


@transaction.atomic
def end_substitute(*, actor: User, substitute: Substitute) -> Substitute:
    """From now on; what was decided in the person's place stands."""
    rows = Substitute.objects.select_related("site", "person", "stands_in", "ended_by")
    substitute = held(rows, substitute.pk)
    if actor.pk != substitute.person_id:
        require_role(actor, substitute.site, Role.ADMINISTRATOR)
    if substitute.ended_at:
        raise Conflict(_("{ended_by} already ended this substitution.").format(ended_by=substitute.ended_by))
    substitute.ended_at, substitute.ended_by = timezone.now(), actor
    substitute.save(update_fields=["ended_at", "ended_by"])
    sentence = f"ended that {substitute.stands_in} decides for {substitute.person}"
    _record(actor, substitute, "substitute.ended", sentence)
    return substitute


def _refuse_people(site: Site, person: User, stands_in: User) -> None:
    if person.pk == stands_in.pk:
        raise Refused(_("Nobody stands in for themselves. Choose somebody else."))
    if not has_role(person, site, *WORKERS):
        raise Refused(
            _("{person} decides nothing at {site}, so nobody can stand in for them there.").format(
                person=person, site=site
            )
        )
    if not stands_in.is_active or not has_role(stands_in, site, *_roles_of(person, site)):
        roles = " or ".join(in_sentence(role.label) for role in _roles_of(person, site))
        raise Refused(
            _(
                "{stands_in} does not hold the role that {person} decides with at {site} ({roles}). An "
                "administrator can give it to them."
            ).format(stands_in=stands_in, person=person, site=site, roles=roles)
        )


def _roles_of(person: User, site: Site) -> tuple[Role, ...]:
    """Those of the two deciding roles that the person holds; else whoever works there may stand in."""
    held = set(Membership.objects.filter(user=person, site=site).values_list("role", flat=True))
    return tuple(role for role in DECIDING if role in held) or WORKERS


def _refuse_days(since: date, until: date) -> None:
    if until < since:
        raise Refused(_("The last day is before the first. Choose a later last day."))
    if until < timezone.localdate():
        raise Refused(_("{until} is past. Choose a later last day.").format(until=day(until)))
    if (until - since).days > MOST_DAYS:
        raise Refused(_("A substitution lasts a year at most. For longer, name the person for the building."))


def _record(actor: User, row: Substitute, verb: str, sentence: str) -> None:
    subjects = [row, row.person, row.stands_in]
    record(actor=actor, verb=verb, sentence=sentence, site_id=row.site_id, subjects=subjects)
