"""Photos past their time go every night; the pages of doors and orders lead to those that are there."""

from datetime import timedelta

from django.apps import AppConfig


class FieldConfig(AppConfig):
    name = "keyctl.field"

    def ready(self) -> None:
        from keyctl.field.selectors.photos import link_to_photos
        from keyctl.field.services.photos import throw_away_photos
        from keyctl.jobs.routines import register_routine
        from keyctl.places.beside import add_source

        add_source(link_to_photos)
        register_routine(
            "field.photos", "Throw away photos past their time", throw_away_photos, every=timedelta(days=1)
        )
