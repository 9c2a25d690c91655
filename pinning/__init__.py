"""Pinning: the arithmetic of pin tumbler cores, for every construction that a format can describe.

Values are frozen and valid once parsed; everything that is refused is refused with all its reasons at once.
The modules, lowest first: errors, fields, figures, formats, bittings, columns (pins in a position), stacks
(what to put in), shear (what turns), lifting (why), decode, measuring, doubts, likely, reading (pins taken
out), calipers (keys read), residuals, repin, profiles (drawing a key), selfproof (of a format), counting,
budget (of work), rules, progression, rotating, partial, methods, hierarchy, allotting, pages, masters,
controls, symbols, audit (who turns what), abiding (by rules), painting, incidental (keys nobody meant),
sampling, nearness (near misses), extending, exposure, assessing, evidence, candidates, habits, inference,
levels, advice (an inherited system), inputs, planning, inheriting, covers, fronts, choosing (keys for doors),
suggesting, charts, clauses (for a SAT solver), kits, encoding, crowding, trials, searching, inclusion,
skeleton, solving (a lock chart), clashes, consequences, charting, commands (`python -m pinning`).
"""

from pinning.advice import Advice, OpenCore, advise
from pinning.allotting import allot, least_rooms
from pinning.audit import KeyIndex, Proof, prove
from pinning.bittings import Bitting, bitting_of, parse_any_bitting, parse_bitting, render
from pinning.calipers import KeyReading, read_key
from pinning.choosing import KeySet, choose_keys, preview_keys
from pinning.columns import Pinning, PinStack, control_label, parse_stacks
from pinning.controls import make_room, propose_control
from pinning.counting import amplification, count_bittings, legal_bittings, rotating_constant
from pinning.decode import Decoded, decode
from pinning.doubts import Doubt
from pinning.errors import PinningError, Refusal, Refusals, Refused
from pinning.evidence import CircularKey, SeenCore, seen_reading
from pinning.exposure import Exposure, Leaner, expose, pinned_for, without_each
from pinning.extending import POLICIES, Choice, Surroundings, choose
from pinning.formats import (
    EMPTY,
    Control,
    CoreFormat,
    DriverRange,
    PinKit,
    Totals,
    load,
    load_all,
    parse_format,
    to_mapping,
)
from pinning.hierarchy import Hierarchy, allocate
from pinning.incidental import count_union, incidental_total, withdrawing_total
from pinning.inference import Reconstruction, reconstruct
from pinning.levels import Levels, LikelyMaster, find_levels
from pinning.lifting import LiftedChamber, lift
from pinning.masters import propose_master
from pinning.methods import METHODS, Keys, by_method
from pinning.nearness import NearMiss, near_misses
from pinning.pages import Layout, Place, layout, masters_of, place_of
from pinning.partial import Partial, loosen
from pinning.profiles import Profile, ProfileCut, key_profile
from pinning.progression import Progression, key_bitting_array, progress
from pinning.reading import Reading, read_stacks
from pinning.repin import ChamberChange, Repin, repin
from pinning.residuals import Residual, residuals
from pinning.rotating import Rotation, rotate
from pinning.rules import Rules, count_by_rules, count_in_columns, nth_in_columns
from pinning.sampling import Estimate, estimate_union
from pinning.selfproof import FormatProof, Impossible, prove_format
from pinning.shear import Turning, operating_cuts, turn, withdrawing_cuts
from pinning.stacks import pin
from pinning.symbols import (
    CONTROL,
    Symbol,
    cross_keyed,
    direct_change,
    key_symbol,
    parse_symbol,
    single_keyed,
    without_change,
)

__all__ = [
    "CONTROL",
    "EMPTY",
    "METHODS",
    "POLICIES",
    "Advice",
    "Bitting",
    "ChamberChange",
    "Choice",
    "CircularKey",
    "Control",
    "CoreFormat",
    "Decoded",
    "Doubt",
    "DriverRange",
    "Estimate",
    "Exposure",
    "FormatProof",
    "Hierarchy",
    "Impossible",
    "KeyIndex",
    "KeyReading",
    "KeySet",
    "Keys",
    "Layout",
    "Leaner",
    "Levels",
    "LiftedChamber",
    "LikelyMaster",
    "NearMiss",
    "OpenCore",
    "Partial",
    "PinKit",
    "PinStack",
    "Pinning",
    "PinningError",
    "Place",
    "Profile",
    "ProfileCut",
    "Progression",
    "Proof",
    "Reading",
    "Reconstruction",
    "Refusal",
    "Refusals",
    "Refused",
    "Repin",
    "Residual",
    "Rotation",
    "Rules",
    "SeenCore",
    "Surroundings",
    "Symbol",
    "Totals",
    "Turning",
    "advise",
    "allocate",
    "allot",
    "amplification",
    "bitting_of",
    "by_method",
    "choose",
    "choose_keys",
    "control_label",
    "count_bittings",
    "count_by_rules",
    "count_in_columns",
    "count_union",
    "cross_keyed",
    "decode",
    "direct_change",
    "estimate_union",
    "expose",
    "find_levels",
    "incidental_total",
    "key_bitting_array",
    "key_profile",
    "key_symbol",
    "layout",
    "least_rooms",
    "legal_bittings",
    "lift",
    "load",
    "load_all",
    "loosen",
    "make_room",
    "masters_of",
    "near_misses",
    "nth_in_columns",
    "operating_cuts",
    "parse_any_bitting",
    "parse_bitting",
    "parse_format",
    "parse_stacks",
    "parse_symbol",
    "pin",
    "pinned_for",
    "place_of",
    "preview_keys",
    "progress",
    "propose_control",
    "propose_master",
    "prove",
    "prove_format",
    "read_key",
    "read_stacks",
    "reconstruct",
    "render",
    "repin",
    "residuals",
    "rotate",
    "rotating_constant",
    "seen_reading",
    "single_keyed",
    "to_mapping",
    "turn",
    "withdrawing_cuts",
    "withdrawing_total",
    "without_change",
    "without_each",
]
