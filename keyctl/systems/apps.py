"""Key systems are designed by the worker: a large one takes longer than a page may."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class SystemsConfig(AppConfig):
    name = "keyctl.systems"

    def ready(self) -> None:
        from keyctl.jobs.kinds import register_kind
        from keyctl.systems.services.drafting import DESIGN_JOB
        from keyctl.systems.services.making import make_system

        register_kind(DESIGN_JOB, gettext_lazy("Design a key system"), make_system)
