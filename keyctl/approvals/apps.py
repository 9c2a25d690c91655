"""Silence and keys that nobody collects are answered by routines; keys and orders, which lie below, tell of
holders who leave and of copies that were cut, and ask what is set aside and who may not hand it out."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy, gettext_noop


class ApprovalsConfig(AppConfig):
    name = "keyctl.approvals"

    def ready(self) -> None:
        from keyctl.approvals.apart import masters_approved_by
        from keyctl.approvals.law import one_person_for_two
        from keyctl.approvals.lists import REQUESTS
        from keyctl.approvals.services.ending import end_for_departed, tidy
        from keyctl.approvals.services.escalating import escalate_silent_steps
        from keyctl.approvals.services.setting_aside import aside_for_others, take_cut_copies
        from keyctl.jobs.routines import register_routine
        from keyctl.keys import departing, handing, reservations
        from keyctl.lib.laws import register_law
        from keyctl.listing.declaring import register_list
        from keyctl.orders import listening

        register_list(REQUESTS)
        departing.add_listener(end_for_departed)
        reservations.add_source(aside_for_others)
        handing.add_bar(masters_approved_by)
        listening.add_listener(take_cut_copies)
        register_law(
            "approvals.two_people",
            gettext_noop("Nobody decides their own request or hands out a master that they decided"),
            one_person_for_two,
            gettext_noop(
                "Ask who did it and why; take the copy back (Keys) and have the request decided anew."
            ),
        )
        register_routine(
            "approvals.tidy",
            gettext_lazy("Free keys that nobody collects"),
            tidy,
            every=timedelta(minutes=30),
        )
        register_routine(
            "approvals.escalate",
            gettext_lazy("Ask others where nobody decides a request"),
            escalate_silent_steps,
            every=timedelta(minutes=15),
        )
