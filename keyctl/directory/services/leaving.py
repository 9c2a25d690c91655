"""A person goes: no more keys, no sign-in, a case at each site where keys are out. And comes back."""

from dataclasses import dataclass, field
from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.accounts.services import begin_sign_in, end_sign_in
from keyctl.audit.services import record
from keyctl.directory.access import require_keeper
from keyctl.directory.models import EndedSignIn
from keyctl.directory.services.people import entry_of, locked_person
from keyctl.keys.models import Holder, Person
from keyctl.keys.services import deactivate_holder, reactivate_holder
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.services import end_as_staying, open_case
from keyctl.leavers.services.opening import holds_keys
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

Why = LeaverCase.Why


@dataclass
class Departure:
    """What a leaving brought about."""

    person: Person
    cases: list[LeaverCase] = field(default_factory=list)
    # Sites whose only administrator this was: the sign-in stays, somebody must be able to get in.
    kept_for: list[Site] = field(default_factory=list)
    is_news: bool = True

    @property
    def words(self) -> str:
        parts = [_("{person} has left.").format(person=self.person)]
        if self.cases:
            sites = ", ".join(str(case.holder.site) for case in self.cases)
            parts.append(_("Keys are to come back at {sites}.").format(sites=sites))
        if self.kept_for:
            sites = ", ".join(str(site) for site in self.kept_for)
            parts.append(_("The sign-in stays open: nobody else administers {sites}.").format(sites=sites))
        return " ".join(parts)


@dataclass
class Comeback:
    person: Person
    closed: list[LeaverCase] = field(default_factory=list)
    signs_in: bool = False


@transaction.atomic
def deactivate_person(
    *, actor: User, person: Person, why: LeaverCase.Why = Why.HAND, note: str = ""
) -> Departure:
    """Said twice it is done once: of two at the same time the second finds nothing to do."""
    require_keeper(actor)
    person = locked_person(person)
    if not person.is_active:
        return Departure(person, is_news=False)
    person.is_active, person.changed_at = False, timezone.now()
    person.save(update_fields=["is_active", "changed_at"])
    done = Departure(person)
    for holder in _holders(person).filter(is_active=True):
        if holds_keys(holder):
            done.cases.append(open_case(actor=actor, holder=holder, why=why, note=note))
        deactivate_holder(actor=actor, holder=holder, note=note)
    done.kept_for = _end_sign_in(actor, person)
    _tell(actor, person, "left", f"wrote down that {person} has left", why=why.value)
    return done


@transaction.atomic
def reactivate_person(*, actor: User, person: Person) -> Comeback:
    """They receive keys again at every site; open cases end, for what they hold is theirs again.

    A sign-in that ended with the leaving opens again, with its roles; one that ended otherwise does not.
    """
    require_keeper(actor)
    person = locked_person(person)
    if person.is_active:
        return Comeback(person)
    person.is_active, person.changed_at = True, timezone.now()
    person.save(update_fields=["is_active", "changed_at"])
    entry = entry_of(person)
    if entry.removed_at is not None:
        entry.removed_at = None
        entry.save(update_fields=["removed_at"])
    back = Comeback(person)
    for holder in _holders(person).filter(is_active=False):
        reactivate_holder(actor=actor, holder=holder)
        if case := end_as_staying(actor, holder):
            back.closed.append(case)
    back.signs_in = _begin_sign_in(actor, person)
    _tell(actor, person, "came_back", f"wrote down that {person} is here again")
    return back


@transaction.atomic
def announce_person(*, actor: User, person: Person, leaves_on: date, why: LeaverCase.Why) -> list[LeaverCase]:
    """The last day is known: a case at every site where they receive keys, with reminders before it."""
    require_keeper(actor)
    holders = _holders(person).filter(is_active=True)
    return [open_case(actor=actor, holder=holder, why=why, leaves_on=leaves_on) for holder in holders]


@transaction.atomic
def remove_person(*, actor: User, person: Person) -> Departure:
    """The identity provider deletes them: here they have left, and it finds them no more."""
    done = deactivate_person(actor=actor, person=person, why=Why.SCIM)
    entry = entry_of(person)
    entry.removed_at = timezone.now()
    entry.save(update_fields=["removed_at"])
    _tell(actor, person, "removed", f"took {person} out of the identity provider's view; the person stays")
    return done


def _holders(person: Person) -> QuerySet[Holder]:
    return Holder.objects.filter(person=person).select_related("site").order_by("site__code", "pk")


def _end_sign_in(actor: User, person: Person) -> list[Site]:
    """Empty where it ended or there is none; else the sites that would be without an administrator."""
    user = person.user
    if user is None or not user.is_active:
        return []
    if alone := _left_alone(user):
        return alone
    if end_sign_in(actor=actor, user=user):
        EndedSignIn.objects.filter(user=user, begun_at=None).update(begun_at=timezone.now())
        EndedSignIn.objects.create(person=person, user=user)
    return []


def _left_alone(user: User) -> list[Site]:
    """The sites that nobody else administers. Of two who go at once, the second waits and is the last."""
    own = Site.objects.for_roles(user, Role.ADMINISTRATOR)
    admins = Membership.objects.filter(site__in=own, role=Role.ADMINISTRATOR)
    list(admins.select_for_update().order_by("pk").values_list("pk"))
    others = admins.filter(user__is_active=True).exclude(user=user)
    return list(own.exclude(pk__in=others.values("site")))


def _begin_sign_in(actor: User, person: Person) -> bool:
    ended = EndedSignIn.objects.filter(person=person, begun_at=None).select_related("user").first()
    if ended is None:
        return False
    ended.begun_at = timezone.now()
    ended.save(update_fields=["begun_at"])
    return begin_sign_in(actor=actor, user=ended.user)


def _tell(actor: User, person: Person, verb: str, sentence: str, **detail: str) -> None:
    record(
        actor=actor,
        verb=f"person.{verb}",
        sentence=sentence,
        subjects=[person, *Holder.objects.filter(person=person)],
        detail=detail,
    )
