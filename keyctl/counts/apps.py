"""Keys, which lie below, tell of a new custodian and ask what may not leave a cabinet; the nightly round."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class CountsConfig(AppConfig):
    name = "keyctl.counts"

    def ready(self) -> None:
        from keyctl.counts.routine import EVERY, NAME, open_due_counts
        from keyctl.counts.selectors.marks import marks_of_counts
        from keyctl.counts.services.handovers import blocked_copies, custodian_changed
        from keyctl.jobs.routines import register_routine
        from keyctl.keys import cabinet_marks, custodians, reservations

        custodians.add_listener(custodian_changed)
        reservations.add_source(blocked_copies)
        cabinet_marks.add_source(marks_of_counts)
        register_routine(
            NAME,
            gettext_lazy("Open the counts that are due, and tell who counts"),
            open_due_counts,
            every=EVERY,
        )
