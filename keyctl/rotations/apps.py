"""Orders, which lie below, tell of swapped and unreached doors; plans are worked out as jobs."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy, gettext_noop


class RotationsConfig(AppConfig):
    name = "keyctl.rotations"

    def ready(self) -> None:
        from keyctl.jobs.kinds import register_kind
        from keyctl.lib.retold import register_texts
        from keyctl.orders.listening import add_swap_listener, add_unreached_listener
        from keyctl.rotations.services import hearing, planning

        register_texts(gettext_noop("Rotation {number}"))
        add_swap_listener(hearing.door_swapped)
        add_unreached_listener(hearing.door_unreached)
        register_kind(planning.PLAN, gettext_lazy("Deal doors out into waves"), planning.run_plan)
