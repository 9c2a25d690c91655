"""One of everything at a site: what the API can answer about."""

from dataclasses import dataclass

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.services import ask_for_key
from keyctl.audit.chain import link_events
from keyctl.audit.models import Event, Link
from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.keys.services import hand_out
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing, Site, Space
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.webhooks.models import Delivery, Endpoint, Try
from tests.factories import (
    change_key,
    install,
    make_cabinet,
    make_copy,
    make_core,
    make_door,
    make_holder,
    make_housing,
    make_space,
    make_system,
    make_user,
)

# Stands in no answer to who may not read of people.
NAME = "Rosamund Quillfeather"


@dataclass(frozen=True)
class Estate:
    site: Site
    door: Door
    housing: Housing
    system: KeySystem
    core: Core
    spare: Core
    order: WorkOrder
    # A copy of the core's change key is out with somebody, who has asked for another.
    holder: Holder
    copy: KeyCopy
    request: KeyRequest
    event: Link
    cabinet: Cabinet

    @property
    def webhook(self) -> Endpoint:
        """Told of keys at the site, and of one event so far; made where it is asked for."""
        found = Endpoint.objects.filter(sites=self.site).first()
        return found or make_webhook(self.site, self.event)

    @property
    def space(self) -> Space:
        return self.door.spaces.get()

    @property
    def key(self) -> KeySymbol:
        return self.copy.symbol


def build(site: Site, locksmith: User) -> Estate:
    door = make_door(site, number="E-1.04", name="Plant room", is_egress=True)
    door.spaces.add(make_space(door.floor, number="1.04"))
    housing = make_housing(door=door, label="Upper")
    system = make_system(site, actor=locksmith)
    core = install(make_core(actor=locksmith, site=site, system=system), housing)
    spare = make_core(actor=locksmith, site=site, system=system)
    order = make_swap(site, housing, locksmith, core=spare)
    cabinet = site.cabinets.first() or make_cabinet(site)
    copy = issue(change_key(system), make_holder(site, name=NAME, email="rosa.quill@example.org"))
    request = ask_for_key(actor=locksmith, doors=[door], reason=f"For {NAME}", holder=copy.holder)
    return Estate(
        site,
        door,
        housing,
        system,
        core,
        spare,
        order,
        copy.holder or make_holder(site),
        copy,
        request,
        told(),
        cabinet,
    )


def issue(symbol: KeySymbol, holder: Holder, *, desk: User | None = None) -> KeyCopy:
    """A copy that is out with somebody, handed out at the desk."""
    desk = desk or make_user(site=holder.site, role=Role.KEY_DESK)
    cabinet = holder.site.cabinets.first() or make_cabinet(holder.site)
    copy = make_copy(symbol, cabinet)
    hand_out(actor=desk, copy=copy, holder=holder, signed_as=holder.name)
    return KeyCopy.objects.with_names().get(pk=copy.pk)


def told() -> Link:
    """What was recorded so far gets its numbers, as after a commit; the last one about a site."""
    waiting = Event.objects.filter(link=None).order_by("pk").values_list("pk", flat=True)
    link_events(transaction.get_connection(), list(waiting))
    return Link.objects.filter(event__site_id__isnull=False).latest("number")


def make_webhook(site: Site, event: Link) -> Endpoint:
    url = "https://hooks.example.org/keyctl?token=unsaid"
    endpoint = Endpoint.objects.create(name="Room booking", url=url, families="keys", made_by=make_user())
    endpoint.sites.add(site)
    facts = {"type": event.event.verb, "number": event.pk, "body": "{}"}
    delivery = Delivery.objects.create(endpoint=endpoint, **facts)
    Try.objects.create(delivery=delivery, status=503, milliseconds=41, words="Not unsaid either")
    return endpoint


def make_swap(site: Site, housing: Housing, locksmith: User, *, core: Core | None = None) -> WorkOrder:
    """An order with one line, as if a locksmith had opened it."""
    number = WorkOrder.objects.count() + 1
    order = WorkOrder.objects.create(
        number=number, site=site, kind=WorkOrder.Kind.SWAP, title=f"Swap {number}", opened_by=locksmith
    )
    OrderLine.objects.create(order=order, ordinal=1, housing=housing, core=core)
    return order
