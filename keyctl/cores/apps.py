"""What the worker does with cores; how stored turns hear of new keys and blanks; what a core's code shows."""

from django.apps import AppConfig
from django.utils.translation import gettext_noop


class CoresConfig(AppConfig):
    name = "keyctl.cores"

    def ready(self) -> None:
        from keyctl.cores.keyways import TurnsByKeyway
        from keyctl.cores.law import misplaced_cores
        from keyctl.cores.listing import page_of_core
        from keyctl.cores.lists import CORES, DOORS
        from keyctl.cores.services.bulk_jobs import register_kinds
        from keyctl.cores.services.reveal import KIND, find_pins
        from keyctl.cores.turning import try_newcomers
        from keyctl.formats import fitting
        from keyctl.lib.laws import register_law
        from keyctl.listing.declaring import register_list
        from keyctl.places.finding import add_finder
        from keyctl.reveals.things import register_kind
        from keyctl.systems import newcomers

        add_finder(page_of_core)
        register_list(DOORS)
        register_list(CORES)
        register_law(
            "cores.housings",
            gettext_noop("A core is in a housing that takes it, at its site"),
            misplaced_cores,
            gettext_noop("Look which core is in the door and write it down as found (Estate)."),
        )
        register_kinds()
        register_kind(KIND, find_pins)
        newcomers.add_listener(try_newcomers)
        fitting.add_fitter(TurnsByKeyway())
