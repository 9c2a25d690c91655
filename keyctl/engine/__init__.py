"""The door to `pinning`: the only package that imports it. Bittings pass as text, refusals as sentences."""

from keyctl.engine.cores import (
    dump,
    is_key,
    key_profile,
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
from keyctl.engine.designs import Design, DesignedKey
from keyctl.engine.formats import (
    add_format_source,
    constructions,
    format_names,
    format_parameters,
    load_format,
    parse_format,
)
from pinning.audit import KeyIndex
from pinning.bittings import Bitting
from pinning.calipers import KeyReading
from pinning.doubts import Doubt
from pinning.formats import CoreFormat
from pinning.profiles import Profile
from pinning.reading import Reading
from pinning.repin import Repin
from pinning.residuals import Residual
from pinning.selfproof import FormatProof
from pinning.shear import Turning, operating_cuts, withdrawing_cuts
from pinning.stacks import Pinning, PinStack, control_label
from pinning.symbols import CONTROL, MOST_LEVELS

__all__ = [
    "CONTROL",
    "MOST_LEVELS",
    "Bitting",
    "CoreFormat",
    "Design",
    "DesignedKey",
    "Doubt",
    "FormatProof",
    "KeyIndex",
    "KeyReading",
    "PinStack",
    "Pinning",
    "Profile",
    "Reading",
    "Repin",
    "Residual",
    "Turning",
    "add_format_source",
    "constructions",
    "control_label",
    "dump",
    "format_names",
    "format_parameters",
    "is_key",
    "key_profile",
    "load_format",
    "operating_cuts",
    "parse_format",
    "pin",
    "prove_format",
    "read_key",
    "read_measured_key",
    "read_stacks",
    "repin",
    "residuals",
    "restore",
    "try_key",
    "withdrawing_cuts",
]
