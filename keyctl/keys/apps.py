"""Every night the copies are held against the register; what a cabinet's code shows."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy, gettext_noop


class KeysConfig(AppConfig):
    name = "keyctl.keys"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.keys.law import broken_law, check_law
        from keyctl.keys.lists import COPIES, OUT, REGISTER
        from keyctl.keys.reveal import KIND, find_cuts
        from keyctl.keys.selectors import page_of_cabinet
        from keyctl.lib.laws import register_law
        from keyctl.listing.declaring import register_list
        from keyctl.places.finding import add_finder
        from keyctl.reveals.things import register_kind

        add_finder(page_of_cabinet)
        for declared in (OUT, COPIES, REGISTER):
            register_list(declared)
        register_law(
            "keys.register",
            gettext_noop(
                "Copies cut are with holders, in cabinets, lost or destroyed, and the register agrees"
            ),
            broken_law,
            gettext_noop("Look for the copy, and book what is true by an act of the desk (Keys)."),
        )
        register_kind(KIND, find_cuts)
        register_routine(
            "keys.law", gettext_lazy("Hold copies against the register"), check_law, every=timedelta(days=1)
        )
