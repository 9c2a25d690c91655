"""What is disputed is guarded; what is past its time goes every night; links beside doors and orders."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy, gettext_noop


class FieldConfig(AppConfig):
    name = "keyctl.field"

    def ready(self) -> None:
        from keyctl.cores.disputes import add_housing_guard
        from keyctl.field.forgetting import forget_events
        from keyctl.field.law import disputes_without_case
        from keyctl.field.selectors.cases import case_at
        from keyctl.field.selectors.photos import link_to_photos
        from keyctl.field.services.photos import throw_away_photos
        from keyctl.jobs.routines import register_routine
        from keyctl.lib.laws import register_law
        from keyctl.places.beside import add_source

        add_source(link_to_photos)
        add_housing_guard(case_at)
        register_law(
            "field.disputes",
            gettext_noop("A core is disputed as long as an open case names it"),
            disputes_without_case,
            gettext_noop("Look where the core really is and settle its case (Work orders, Contradictions)."),
        )
        register_routine(
            "field.forget",
            gettext_lazy("Forget what tablets told long ago"),
            forget_events,
            every=timedelta(days=1),
        )
        register_routine(
            "field.photos",
            gettext_lazy("Throw away photos past their time"),
            throw_away_photos,
            every=timedelta(days=1),
        )
