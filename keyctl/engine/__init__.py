"""The door to `pinning`: the only package that imports it. Bittings pass as text, refusals as sentences."""

from keyctl.engine.charts import (
    ChartTree,
    Clashing,
    Requirement,
    chart_consequences,
    chart_tree,
    read_chart,
    solve_chart,
)
from keyctl.engine.choices import choose_keys, preview_keys
from keyctl.engine.cores import (
    dump,
    is_key,
    key_profile,
    lift,
    pin,
    prove_format,
    read_key,
    read_measured_key,
    read_stacks,
    repin,
    residuals,
    restore,
    try_key,
)
from keyctl.engine.designs import METHODS, Design, DesignedKey, Room, Wanted, refuse_wanted, symbol_below
from keyctl.engine.estates import key_side, turning
from keyctl.engine.formats import (
    add_format_source,
    constructions,
    format_names,
    format_parameters,
    load_format,
    parse_format,
)
from keyctl.engine.growth import (
    POLICIES,
    Estate,
    Grown,
    differing_positions,
    next_changes,
    unplanned_before,
)
from keyctl.engine.inheriting import (
    Candidate,
    LikelyMaster,
    Reconstructed,
    SeenCore,
    faults_of_key,
    positions_off_step,
    reconstruct,
    seen_cuts,
    seen_pins,
    symbol_for,
)
from keyctl.engine.refusals import RefusedByEngine
from keyctl.engine.rekeying import (
    Proven,
    Rekeyed,
    RekeyWorld,
    Replacement,
    changes_below,
    pins_to_add,
    redraw,
)
from keyctl.engine.wording import say, say_open
from pinning.audit import KeyIndex
from pinning.bittings import Bitting
from pinning.calipers import KeyReading
from pinning.choosing import KeySet
from pinning.doubts import Doubt
from pinning.formats import CoreFormat
from pinning.lifting import Across, LiftedChamber, StandingPin
from pinning.profiles import Profile
from pinning.reading import Reading
from pinning.repin import Repin
from pinning.residuals import Residual
from pinning.selfproof import FormatProof
from pinning.shear import Turning, operating_cuts, withdrawing_cuts
from pinning.sides import KeySide
from pinning.stacks import Pinning, PinStack, control_label
from pinning.symbols import CONTROL, MOST_LEVELS, key_symbol

__all__ = [
    "CONTROL",
    "METHODS",
    "MOST_LEVELS",
    "POLICIES",
    "Across",
    "Bitting",
    "Candidate",
    "ChartTree",
    "Clashing",
    "CoreFormat",
    "Design",
    "DesignedKey",
    "Doubt",
    "Estate",
    "FormatProof",
    "Grown",
    "KeyIndex",
    "KeyReading",
    "KeySet",
    "KeySide",
    "LiftedChamber",
    "LikelyMaster",
    "PinStack",
    "Pinning",
    "Profile",
    "Proven",
    "Reading",
    "Reconstructed",
    "RefusedByEngine",
    "RekeyWorld",
    "Rekeyed",
    "Repin",
    "Replacement",
    "Requirement",
    "Residual",
    "Room",
    "SeenCore",
    "StandingPin",
    "Turning",
    "Wanted",
    "add_format_source",
    "changes_below",
    "chart_consequences",
    "chart_tree",
    "choose_keys",
    "constructions",
    "control_label",
    "differing_positions",
    "dump",
    "faults_of_key",
    "format_names",
    "format_parameters",
    "is_key",
    "key_profile",
    "key_side",
    "key_symbol",
    "lift",
    "load_format",
    "next_changes",
    "operating_cuts",
    "parse_format",
    "pin",
    "pins_to_add",
    "positions_off_step",
    "preview_keys",
    "prove_format",
    "read_chart",
    "read_key",
    "read_measured_key",
    "read_stacks",
    "reconstruct",
    "redraw",
    "refuse_wanted",
    "repin",
    "residuals",
    "restore",
    "say",
    "say_open",
    "seen_cuts",
    "seen_pins",
    "solve_chart",
    "symbol_below",
    "symbol_for",
    "try_key",
    "turning",
    "unplanned_before",
    "withdrawing_cuts",
]
