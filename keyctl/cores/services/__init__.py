"""What is done to cores: register, pin, move, exchange, and show their pins."""

from keyctl.cores.services.bulk import pin_cores, register_cores, write_cores
from keyctl.cores.services.bulk_jobs import start_pinning, start_registering
from keyctl.cores.services.correct import correct_core
from keyctl.cores.services.disputes import Settled, Whereabouts, dispute_cores, settle_cores
from keyctl.cores.services.empty import empty_cores
from keyctl.cores.services.exchange import exchange_core
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.services.move import move_core
from keyctl.cores.services.pin import pin_core, pins_for, plan_of, store_pins
from keyctl.cores.services.register import register_core
from keyctl.cores.services.rekey import rekey_cores
from keyctl.cores.services.reveal import pins_to_show, reveal_pinning

__all__ = [
    "Settled",
    "Whereabouts",
    "correct_core",
    "dispute_cores",
    "empty_cores",
    "exchange_core",
    "locked_cores",
    "move_core",
    "pin_core",
    "pin_cores",
    "pins_for",
    "pins_to_show",
    "plan_of",
    "register_core",
    "register_cores",
    "rekey_cores",
    "reveal_pinning",
    "settle_cores",
    "start_pinning",
    "start_registering",
    "store_pins",
    "write_cores",
]
