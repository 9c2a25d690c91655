"""What the worker does with cores, and how stored turns hear of new keys and of blanks that fit."""

from django.apps import AppConfig


class CoresConfig(AppConfig):
    name = "keyctl.cores"

    def ready(self) -> None:
        from keyctl.cores.keyways import TurnsByKeyway
        from keyctl.cores.services.bulk_jobs import register_kinds
        from keyctl.cores.turning import try_newcomers
        from keyctl.formats import fitting
        from keyctl.systems import newcomers

        register_kinds()
        newcomers.add_listener(try_newcomers)
        fitting.add_fitter(TurnsByKeyway())
