"""A tablet, and a case that it told of: a core was seen in a door where the register has none."""

from typing import Any

from keyctl.field.models import ReconcileCase
from tests.keyctl.field.fieldroom import make_core, tablet_of
from tests.scenes.base import Base

OF_DEVICE = ("device", "rename", "withdraw")
OF_CASE = ("case", "settle")


def routes(base: Base) -> dict[str, Any]:
    tablet = tablet_of(base.cast.locksmith, base.cast.north)
    core = make_core(base.cast.north, by=base.cast.locksmith)
    tablet.send(tablet.put(core, core_version=core.version + 1))
    assert tablet.device
    return {
        **{f"field:{name}": tablet.device.pk for name in OF_DEVICE},
        **{f"field:{name}": ReconcileCase.objects.get(site=base.cast.north).pk for name in OF_CASE},
    }
