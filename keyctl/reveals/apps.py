"""What the nightly look over the estate asks of reveals."""

from django.apps import AppConfig
from django.utils.translation import gettext_noop


class RevealsConfig(AppConfig):
    name = "keyctl.reveals"

    def ready(self) -> None:
        from keyctl.lib.laws import register_law
        from keyctl.lib.retold import register_texts
        from keyctl.reveals.law import breaches
        from keyctl.reveals.wording import GROUNDS, THINGS

        register_texts(*THINGS, *GROUNDS)
        register_law(
            "reveals.grounds",
            gettext_noop(
                "Every look at a bitting stands in history and rests on work "
                "or on another person's permission"
            ),
            breaches,
            gettext_noop(
                "Ask who looked and who permitted it, and keep the database as it is: it was changed by hand."
            ),
        )
