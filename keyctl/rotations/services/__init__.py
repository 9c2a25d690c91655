"""What is done to a rotation: started, planned, accepted; waves; doors and cores on their way; the end."""

from keyctl.rotations.services.ending import Proof, cancel, finish, pause, prove, resume
from keyctl.rotations.services.leaving import leave_out, move_later, unreached
from keyctl.rotations.services.planning import running_plan, start_plan
from keyctl.rotations.services.returning import (
    bring_back,
    empty_old_pins,
    give_up_core,
    use_core_again,
    with_old_pins,
)
from keyctl.rotations.services.starting import add_spares, set_terms, start_rotation
from keyctl.rotations.services.waving import accept_plan, begin_wave

__all__ = [
    "Proof",
    "accept_plan",
    "add_spares",
    "begin_wave",
    "bring_back",
    "cancel",
    "empty_old_pins",
    "finish",
    "give_up_core",
    "leave_out",
    "move_later",
    "pause",
    "prove",
    "resume",
    "running_plan",
    "set_terms",
    "start_plan",
    "start_rotation",
    "unreached",
    "use_core_again",
    "with_old_pins",
]
