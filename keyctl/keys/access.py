"""Who may see and touch keys. A foreign thing is not found; a role that does not suffice is forbidden."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.keys.models import Cabinet, Deposit, Handover, Holder, KeyCopy
from keyctl.places.access import has_role, require_role, require_role_somewhere, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
DESK = (Role.KEY_DESK,)
CUTTERS = (Role.LOCKSMITH, Role.KEY_DESK)
DESTROYERS = (Role.LOCKSMITH, Role.KEY_DESK)
# A loss is told at the desk, or straight to the officer whom it worries most.
LOSS_REPORTERS = (Role.KEY_DESK, Role.OFFICER)
CABINET_KEEPERS = (Role.KEY_DESK, Role.ADMINISTRATOR)
# Programs too, within the bounds of ``programs``; the pages stay closed to them.
GIVERS = (*DESK, Role.INTEGRATION)
TAKERS = (*DESK, Role.INTEGRATION)
REGISTRARS = (*CUTTERS, Role.INTEGRATION)
# An identity provider's account, too, tells who comes and who goes.
HOLDER_KEEPERS = (Role.KEY_DESK, Role.ADMINISTRATOR, Role.INTEGRATION)


def key_sites(actor: User) -> QuerySet[Site]:
    """The sites whose keys the actor may look at."""
    return Site.objects.for_roles(actor, *READERS)


def refuse_outsiders(actor: User) -> None:
    """For the page of all keys: somebody with none of the roles anywhere is turned away."""
    require_some(key_sites(actor))


def visible_copies(actor: User) -> QuerySet[KeyCopy]:
    return KeyCopy.objects.at_sites(key_sites(actor)).with_names()


def visible_holders(actor: User) -> QuerySet[Holder]:
    return Holder.objects.filter(site__in=key_sites(actor)).select_related("site")


def visible_cabinets(actor: User) -> QuerySet[Cabinet]:
    return Cabinet.objects.filter(site__in=key_sites(actor)).select_related("site", "custodian")


def visible_deposits(actor: User) -> QuerySet[Deposit]:
    deposits = Deposit.objects.filter(handover__site__in=key_sites(actor))
    return deposits.select_related("handover__holder", "handover__site", "settled_by")


def readable_act(actor: User, pk: UUID) -> Handover:
    """Whoever took or brought the keys may read their own act."""
    acts = Handover.objects.select_related("site", "holder", "by", "terms")
    act = get_object_or_404(acts, pk=pk)
    if act.holder is None or act.holder.user_id != actor.pk:
        require_role(actor, act.site, *READERS)
    return act


def readable_cabinet(actor: User, pk: UUID) -> Cabinet:
    return _cabinet_for(actor, pk, *READERS)


def kept_cabinet(actor: User, pk: UUID) -> Cabinet:
    return _cabinet_for(actor, pk, *CABINET_KEEPERS)


def workable_cabinet(actor: User, pk: UUID) -> Cabinet:
    """A cabinet whose copies the actor may hang elsewhere."""
    return _cabinet_for(actor, pk, *DESK)


def workable_deposit(actor: User, pk: UUID) -> Deposit:
    deposits = Deposit.objects.select_related("handover__holder", "handover__site", "settled_by")
    deposit = get_object_or_404(deposits, pk=pk)
    require_role(actor, deposit.handover.site, *DESK)
    return deposit


def kept_holder(actor: User, pk: UUID) -> Holder:
    holder = get_object_or_404(Holder.objects.select_related("site"), pk=pk)
    require_role(actor, holder.site, *HOLDER_KEEPERS)
    return holder


def cabinet_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *CABINET_KEEPERS)


def readable_copy(actor: User, pk: UUID) -> KeyCopy:
    return _copy_for(actor, pk, *READERS)


def workable_copy(actor: User, pk: UUID) -> KeyCopy:
    """A copy that the actor may hand out and take back."""
    return _copy_for(actor, pk, *DESK)


def losable_copy(actor: User, pk: UUID) -> KeyCopy:
    return _copy_for(actor, pk, *LOSS_REPORTERS)


def destroyable_copy(actor: User, pk: UUID) -> KeyCopy:
    return _copy_for(actor, pk, *DESTROYERS)


def readable_holder(actor: User, pk: UUID) -> Holder:
    """A holder may always look at the keys that they hold themselves."""
    holder = get_object_or_404(Holder.objects.select_related("site", "user", "person__user"), pk=pk)
    if sign_in_of(holder) != actor:
        require_role(actor, holder.site, *READERS)
    return holder


def sign_in_of(holder: Holder) -> User | None:
    """Whom the holder stands for, by themselves or as a person brought in from elsewhere."""
    return holder.user or (holder.person.user if holder.person else None)


def stands_for(holder: Holder, user: User) -> bool:
    """By a sign-in; or by the address, where nobody has told yet that the two are one."""
    person = holder.person
    addresses = {holder.email.casefold(), person.email.casefold() if person else ""} - {""}
    users = {holder.user_id, person.user_id if person else None}
    return user.pk in users or user.email.casefold() in addresses


def reads_keys(actor: User, site: Site) -> bool:
    return has_role(actor, site, *READERS)


def cutting_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *CUTTERS)


def desk_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *DESK)


def symbol_to_cut(site: Site, wanted: str) -> KeySymbol | None:
    """The key that a link asked for, if it names one of the site's; the site was fetched for cutting."""
    try:
        pk = UUID(wanted)
    except ValueError:
        return None
    return KeySymbol.objects.select_related("system").filter(pk=pk, system__sites=site).first()


def cuttable_symbol(actor: User, pk: UUID) -> KeySymbol:
    """A key whose cuts the actor may see: a locksmith at a site that uses its system."""
    symbol = get_object_or_404(KeySymbol.objects.select_related("system"), pk=pk)
    require_role_somewhere(actor, symbol.system.sites.all(), Role.LOCKSMITH)
    return symbol


def _cabinet_for(actor: User, pk: UUID, *roles: Role) -> Cabinet:
    cabinet = get_object_or_404(Cabinet.objects.select_related("site", "custodian"), pk=pk)
    require_role(actor, cabinet.site, *roles)
    return cabinet


def _copy_for(actor: User, pk: UUID, *roles: Role) -> KeyCopy:
    copy = get_object_or_404(KeyCopy.objects.with_names(), pk=pk)
    require_role(actor, copy.site, *roles)
    return copy
