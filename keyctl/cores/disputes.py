"""Disputed cores: stories about one contradict each other: until somebody settles it, nothing is done to it.

The app that keeps such cases lies above; it names the case on the core and guards its housings.
"""

from collections.abc import Callable

from django.utils.translation import gettext as _

from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.places.models import Housing

# The name of the open case that the housing stands in, None where it stands in none.
HousingGuard = Callable[[Housing], str | None]
_guards: list[HousingGuard] = []


def add_housing_guard(guard: HousingGuard) -> None:
    _guards.append(guard)


def refuse_disputed(*cores: Core | None) -> None:
    for core in cores:
        if core is not None and core.is_disputed:
            raise Refused(
                _(
                    "Core {core} is disputed: what was told of it contradicts the register "
                    "({disputed_over}). "
                    "Settle that case first."
                ).format(core=core, disputed_over=core.disputed_over)
            )


def refuse_disputed_housing(housing: Housing) -> None:
    for guard in _guards:
        if case := guard(housing):
            raise Refused(
                _(
                    "What is in {housing} is disputed: what was told of it contradicts the register "
                    "({case}). "
                    "Settle that case first."
                ).format(housing=housing, case=case)
            )
