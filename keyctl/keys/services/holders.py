"""Holders: registered, kept up to date, and no longer given keys."""

from django.db import transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys import departing
from keyctl.keys.access import HOLDER_KEEPERS
from keyctl.keys.models import Holder, Person, PersonKind
from keyctl.keys.services.ledger import locked_holder
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site


@transaction.atomic
def register_holder(
    *,
    actor: User,
    site: Site,
    name: str,
    email: str = "",
    department: str = "",
    kind: str = PersonKind.STAFF,
    person: Person | None = None,
) -> Holder:
    """Somebody who takes keys, whether or not they sign in here."""
    require_role(actor, site, *HOLDER_KEEPERS)
    _refuse_departed(person)
    if email and Holder.objects.filter(site=site, email__iexact=email).exists():
        raise Refused(
            _("Somebody at {site} is already registered with {email}. Hand the key to them.").format(
                site=site, email=email
            )
        )
    if person and Holder.objects.filter(site=site, person=person).exists():
        raise Refused(
            _("{person} is already a holder at {site}. Hand the key to them.").format(
                person=person, site=site
            )
        )
    user = person.user if person else None
    facts = {"name": name, "email": email, "department": department, "kind": kind}
    return _register(actor, Holder(site=site, person=person, user=user, **facts))


@transaction.atomic
def own_holder(*, actor: User, site: Site) -> Holder:
    """The holder that stands for the actor at a site; registered when they first ask for a key there."""
    theirs = Q(user=actor) | Q(person__user=actor)
    found = Holder.objects.filter(theirs, site=site).order_by(F("user").asc(nulls_last=True), "pk").first()
    if found:
        return found
    person = Person.objects.filter(user=actor).first()
    facts = {"department": person.department, "kind": person.kind} if person else {}
    holder = Holder(site=site, name=actor.display_name, email=actor.email, user=actor, person=person, **facts)
    return _register(actor, holder)


@transaction.atomic
def change_holder(
    *, actor: User, holder: Holder, name: str, email: str = "", department: str = "", kind: str = ""
) -> Holder:
    holder = _to_keep(actor, holder)
    others = Holder.objects.filter(site=holder.site, email__iexact=email).exclude(pk=holder.pk)
    if email and others.exists():
        raise Refused(
            _("Somebody else at {site} is registered with {email}. Look at the address.").format(
                site=holder.site, email=email
            )
        )
    if not name.strip():
        raise Refused(_("A holder needs a name. Type it as it stands on their badge."))
    holder.name, holder.email, holder.department = name.strip(), email, department
    holder.kind = kind or holder.kind
    holder.save(update_fields=["name", "email", "department", "kind"])
    _tell(actor, holder, "holder.changed", f"changed what is known of the holder {holder}")
    return holder


@transaction.atomic
def deactivate_holder(*, actor: User, holder: Holder, note: str = "") -> Holder:
    """They receive no more keys; whoever calls back what they hold is told."""
    holder = _to_keep(actor, holder)
    if not holder.is_active:
        raise Refused(_("{holder} already receives no keys. Look at the holder again.").format(holder=holder))
    holder.is_active = False
    holder.save(update_fields=["is_active"])
    sentence = f"ended that {holder} receives keys at {holder.site}"
    departing.tell_listeners(actor, holder)
    _tell(actor, holder, "holder.deactivated", sentence, note)
    return holder


@transaction.atomic
def reactivate_holder(*, actor: User, holder: Holder, note: str = "") -> Holder:
    holder = _to_keep(actor, holder)
    if holder.is_active:
        raise Refused(_("{holder} receives keys already. Look at the holder again.").format(holder=holder))
    _refuse_departed(holder.person)
    holder.is_active = True
    holder.save(update_fields=["is_active"])
    _tell(actor, holder, "holder.reactivated", f"let {holder} receive keys at {holder.site} again", note)
    return holder


def _refuse_departed(person: Person | None) -> None:
    """Who left, left everywhere: no single desk takes them back."""
    if person and not person.is_active:
        raise Refused(
            _("{person} has left. Take them back on the person's page first.").format(person=person)
        )


def _to_keep(actor: User, holder: Holder) -> Holder:
    require_role(actor, holder.site, *HOLDER_KEEPERS)
    return locked_holder(holder)


def _register(actor: User, holder: Holder) -> Holder:
    holder.save(force_insert=True)
    sentence = f"registered {holder} as a holder of keys at {holder.site}"
    _tell(actor, holder, "holder.registered", sentence)
    return holder


def _tell(actor: User, holder: Holder, verb: str, sentence: str, note: str = "") -> None:
    detail = {"note": note.strip()} if note.strip() else {}
    record(
        actor=actor, verb=verb, sentence=sentence, site_id=holder.site.pk, subjects=[holder], detail=detail
    )
