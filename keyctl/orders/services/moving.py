"""What people say of an order as a whole: it starts, it waits, it goes on, somebody does it."""

from django.db import transaction
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.orders.models import WorkOrder
from keyctl.orders.services.closing import refuse_unless
from keyctl.orders.states import ASKED_FOR, STEPS, Act
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Membership
from keyctl.places.roles import Role


@transaction.atomic
def start_order(*, actor: User, order: WorkOrder) -> WorkOrder:
    order = _moved(actor, order, Act.START)
    return record_order(actor, order, "order.started", f"started order {order.number}")


@transaction.atomic
def let_wait(*, actor: User, order: WorkOrder, reason: str) -> WorkOrder:
    if not reason.strip():
        raise Refused(gettext("Say what the order waits for: parts, people, a door that can be reached."))
    order = _moved(actor, order, Act.WAIT, waits_for=reason.strip())
    return record_order(actor, order, "order.waits", f"let order {order.number} wait: {order.waits_for}")


@transaction.atomic
def go_on(*, actor: User, order: WorkOrder) -> WorkOrder:
    order = _moved(actor, order, Act.GO_ON)
    return record_order(actor, order, "order.went_on", f"let order {order.number} go on")


@transaction.atomic
def assign_order(*, actor: User, order: WorkOrder, to: User | None) -> WorkOrder:
    """To a locksmith of its site, or to nobody; parts that are open follow their area."""
    order = _moved(actor, order, Act.ASSIGN)
    if to is not None and not has_role(to, order.site, Role.LOCKSMITH):
        raise Refused(
            gettext("{to} is no locksmith at {site}. Choose one who is.").format(to=to, site=order.site)
        )
    order.assigned_to = to
    order.save(update_fields=["assigned_to"])
    order.parts.unfinished().update(assigned_to=to)
    whom = f"gave order {order.number} to {to}" if to else f"took order {order.number} from whoever had it"
    return record_order(actor, order, "order.assigned", whom)


def allowed_acts(actor: User, order: WorkOrder) -> list[Act]:
    """What this person may ask of the order as it stands, for the page and the API."""
    held = set(Membership.objects.filter(user=actor, site=order.site_id).values_list("role", flat=True))
    steps = [(act, STEPS.get((WorkOrder.State(order.state), act))) for act in ASKED_FOR]
    found = [act for act, step in steps if step and held & set(step[1])]
    return [act for act in found if act != Act.ALLOW or order.kind == WorkOrder.Kind.LOCK_OUT]


def held_for(actor: User, order: WorkOrder, act: Act) -> WorkOrder:
    """The order, locked for an act that this person's roles and its state allow."""
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("site").get(pk=order.pk)
    roles = {role for (_, each), (_, whose) in STEPS.items() if each == act for role in whose}
    require_role(actor, order.site, *roles)
    refuse_unless(order, act)
    return order


def _moved(actor: User, order: WorkOrder, act: Act, *, waits_for: str | None = None) -> WorkOrder:
    order = held_for(actor, order, act)
    order.state = refuse_unless(order, act)
    if order.state != WorkOrder.State.WAITING:
        order.waits_for = ""
    elif waits_for is not None:
        order.waits_for = waits_for
    order.save(update_fields=["state", "waits_for"])
    return order


def record_order(actor: User, order: WorkOrder, verb: str, sentence: str) -> WorkOrder:
    """History's line about an order as a whole."""
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number},
    )
    return order
