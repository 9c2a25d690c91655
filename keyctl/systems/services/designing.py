"""Designing a key system by total position progression, with every key of its tree."""

from collections.abc import Sequence
from random import Random, SystemRandom

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services.adding import refuse_place, save_system
from keyctl.systems.services.entries import entries_of
from keyctl.systems.services.storing import store_keys


@transaction.atomic
def design_system(
    *,
    actor: User,
    sites: Sequence[Site],
    code: str,
    name: str,
    format_id: str,
    keyway: str,
    groups: Sequence[Sequence[int]],
    children: Sequence[int],
    rng: Random | None = None,
) -> KeySystem:
    """Draw a system by total position progression and store every key of its tree.

    ``groups`` are the positions each level below the top fixes, ``children`` how many keys stand below
    each key of the level above. ``rng`` is for tests and the invented estate; a real system is drawn from
    the operating system's source of chance.
    """
    refuse_place(actor, sites, code)
    _refuse_shape(groups, children)
    design = engine.Design.draw(format_id, groups, rng or SystemRandom())
    _refuse_crowding(design, children)
    system = KeySystem(
        code=code, name=name, format_id=format_id, keyway=keyway, levels=len(groups) + 1, created_by=actor
    )
    save_system(system, sites, design)
    count = len(store_keys(system, list(entries_of(design, children)), KeySymbol.Origin.DESIGNED))
    record(
        actor=actor,
        verb="system.designed",
        sentence=f"designed the key system {code} with {count} keys on {system.levels} levels",
        site_id=sites[0].pk,
        subjects=[system],
    )
    return system


def _refuse_shape(groups: Sequence[Sequence[int]], children: Sequence[int]) -> None:
    if len(groups) != len(children) or not 1 <= len(groups) < engine.MOST_LEVELS:
        raise Refused(
            _("Give positions and a number of keys for one to {number} levels below the top.").format(
                number=engine.MOST_LEVELS - 1
            )
        )
    if any(count < 1 for count in children):
        raise Refused(_("Every level needs at least one key below each key above it."))


def _refuse_crowding(design: engine.Design, children: Sequence[int]) -> None:
    """With an adjacent-cut limit some parents have room for fewer keys than others: the least counts."""
    for room, count in zip(design.rooms(children), children, strict=True):
        if count > room.least:
            raise Refused(
                _(
                    "Level {level} has room for {least} keys below one key above it, not for "
                    "{count}: ask for "
                    "fewer, or give the level more positions."
                ).format(level=room.level, least=room.least, count=count)
            )
