"""Every night the copies are held against the register; what a cabinet's code shows."""

from datetime import timedelta

from django.apps import AppConfig


class KeysConfig(AppConfig):
    name = "keyctl.keys"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.keys.law import check_law
        from keyctl.keys.selectors import page_of_cabinet
        from keyctl.places.finding import add_finder

        add_finder(page_of_cabinet)
        register_routine("keys.law", "Hold copies against the register", check_law, every=timedelta(days=1))
