"""What happens to keys below tells the cases above; long work and the nightly look are registered."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy, gettext_noop


class LossesConfig(AppConfig):
    name = "keyctl.losses"

    def ready(self) -> None:
        from keyctl.jobs.kinds import register_kind
        from keyctl.jobs.routines import register_routine
        from keyctl.keys import finding, losing
        from keyctl.lib.retold import register_texts
        from keyctl.losses.carrying import carry_out
        from keyctl.losses.planning.plans import CARRY, PLAN
        from keyctl.losses.services import looking, nightly, opening, planning, proving

        register_texts(gettext_noop("Loss {number}"))
        losing.add_listener(opening.copies_lost)
        finding.add_listener(opening.copies_found)
        register_kind(looking.LOOK, gettext_lazy("Look what lost keys open"), looking.run_look)
        register_kind(proving.PROVE, gettext_lazy("Prove that lost keys turn nothing"), proving.run_proof)
        register_kind(PLAN, gettext_lazy("Work out ways to rekey"), planning.run_plans)
        register_kind(CARRY, gettext_lazy("Write keys, cores and orders of a plan"), carry_out)
        register_routine(
            "losses.prove",
            gettext_lazy("Try the lost keys of proven cases again"),
            nightly.prove_again,
            every=timedelta(days=1),
        )
