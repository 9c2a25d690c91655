"""What the worker does with cores; how stored turns hear of new keys and blanks; what a core's code shows."""

from django.apps import AppConfig


class CoresConfig(AppConfig):
    name = "keyctl.cores"

    def ready(self) -> None:
        from keyctl.cores.keyways import TurnsByKeyway
        from keyctl.cores.listing import page_of_core
        from keyctl.cores.services.bulk_jobs import register_kinds
        from keyctl.cores.turning import try_newcomers
        from keyctl.formats import fitting
        from keyctl.places.finding import add_finder
        from keyctl.systems import newcomers

        add_finder(page_of_core)
        register_kinds()
        newcomers.add_listener(try_newcomers)
        fitting.add_fitter(TurnsByKeyway())
