"""Key cabinets: opening one, naming it anew, and who answers for it."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys import custodians
from keyctl.keys.access import CABINET_KEEPERS
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Membership, Site


@transaction.atomic
def open_cabinet(*, actor: User, site: Site, name: str, custodian: User | None = None) -> Cabinet:
    require_role(actor, site, *CABINET_KEEPERS)
    cabinet = Cabinet(site=site, name=_name(site, name), custodian=custodian)
    if custodian:
        _refuse_stranger(custodian, site)
    cabinet.save(force_insert=True)
    _tell(actor, cabinet, "cabinet.opened", f"opened the cabinet {cabinet} at {site}")
    return cabinet


@transaction.atomic
def rename_cabinet(*, actor: User, cabinet: Cabinet, name: str) -> Cabinet:
    cabinet = _locked(actor, cabinet)
    old, cabinet.name = cabinet.name, _name(cabinet.site, name, but=cabinet)
    cabinet.save(update_fields=["name"])
    _tell(actor, cabinet, "cabinet.renamed", f"named the cabinet {old} {cabinet}")
    return cabinet


@transaction.atomic
def change_custodian(*, actor: User, cabinet: Cabinet, to: User | None) -> Cabinet:
    """Whoever has cabinets counted is told: who takes one over counts it first."""
    cabinet = _locked(actor, cabinet)
    if (to.pk if to else None) == cabinet.custodian_id:
        raise Refused(
            _("{cabinet} is already in the care of {value}. Choose somebody else.").format(
                cabinet=cabinet, value=to or _("nobody")
            )
        )
    if to:
        _refuse_stranger(to, cabinet.site)
    before, cabinet.custodian = cabinet.custodian, to
    cabinet.save(update_fields=["custodian"])
    sentence = f"gave {cabinet} into the care of {to or 'nobody'}; before: {before or 'nobody'}"
    custodians.tell_listeners(actor, cabinet, before)
    _tell(actor, cabinet, "cabinet.custodian_changed", sentence)
    return cabinet


def _locked(actor: User, cabinet: Cabinet) -> Cabinet:
    """The cabinet as it is now, until the end of the transaction."""
    Cabinet.objects.select_for_update(no_key=True).get(pk=cabinet.pk)
    found = Cabinet.objects.select_related("site", "custodian").get(pk=cabinet.pk)
    require_role(actor, found.site, *CABINET_KEEPERS)
    return found


def _name(site: Site, name: str, but: Cabinet | None = None) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused(_("Give the cabinet a name: what stands on it."))
    others = Cabinet.objects.filter(site=site, name__iexact=name)
    if (others.exclude(pk=but.pk) if but else others).exists():
        raise Refused(
            _("{site} has a cabinet {name} already. Choose another name.").format(site=site, name=name)
        )
    return name


def _refuse_stranger(user: User, site: Site) -> None:
    if not user.is_active or not Membership.objects.filter(user=user, site=site).exists():
        raise Refused(
            _("{user} has no role at {site}. Choose somebody who has.").format(user=user, site=site)
        )


def _tell(actor: User, cabinet: Cabinet, verb: str, sentence: str) -> None:
    record(actor=actor, verb=verb, sentence=sentence, site_id=cabinet.site_id, subjects=[cabinet])
