"""Which cores owe a try-out, and the keys to try in them."""

from keyctl.cores.models import Core
from keyctl.lib.prepared import Prepared, Slot
from keyctl.orders.models import OrderLine
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE, ancestors, control_of

OWING = (OrderLine.Trying.OWED, OrderLine.Trying.WRONG)
# A core that many keys are keyed to is not tried with all of them.
MOST_OWN_KEYS = 3

# Asked at every swap, and hardly ever true.
_OWING = Prepared(
    lambda: (
        OrderLine.objects.filter(core=Slot("core"), trying__in=OWING, done_at__gte=Slot("pinned"))
        .select_related("order")
        .order_by("-done_at")[:1]
    )
)


def owing_line(core: Core) -> OrderLine | None:
    """The line that pinned the core as it is now, where nobody tried it since or a key did wrong."""
    if core.pinned_at is None:
        return None
    return _OWING.first(core=core.pk, pinned=core.pinned_at)


def keys_to_try(core: Core) -> list[KeySymbol]:
    """Its own keys, the highest master above, the control key, and one that must do nothing, if there is."""
    own = list(core.keyed_to.select_related("system", LINE).order_by("symbol")[:MOST_OWN_KEYS])
    if core.system is None or not own:
        return own
    above = [master for master in ancestors(own[0]) if not master.is_retired]
    others = [above[-1] if above else None, control_of(core.system), _key_that_does_nothing(core, own[0])]
    return own + [key for key in others if key is not None and key not in own]


def _key_that_does_nothing(core: Core, own: KeySymbol) -> KeySymbol | None:
    """The nearest number of the same master that no pins let in; else any key of the system."""
    keys = KeySymbol.objects.filter(
        system=own.system_id, kind=KeySymbol.Kind.CHANGE, retired_at__isnull=True
    ).exclude(turns__core=core)
    brothers = keys.filter(parent=own.parent_id, ordinal__gt=own.ordinal)
    found = brothers.order_by("ordinal").first() or keys.order_by("ordinal", "symbol").first()
    return KeySymbol.objects.select_related("system").get(pk=found.pk) if found else None
