"""Many keys against many cores at once."""

from collections.abc import Iterator, Mapping
from typing import TypeVar

from keyctl.engine.formats import load_format
from pinning.bittings import Bitting
from pinning.sides import CoreSide, KeySide, audit
from pinning.stacks import Pinning

KeyId = TypeVar("KeyId")
CoreId = TypeVar("CoreId")


def key_side(format_id: str, keys: Mapping[KeyId, Bitting]) -> "KeySide[KeyId]":
    """Keys of one format, laid out once for many questions."""
    return KeySide(load_format(format_id), keys)


def turning(
    keys: "KeySide[KeyId]", cores: Mapping[CoreId, Pinning]
) -> Iterator[tuple[CoreId, KeyId, bool, bool]]:
    """(core, key, operates, withdraws) for every pair in which the key does either, core by core."""
    side = CoreSide(keys.format, cores)
    for key, core, operates, withdraws in audit(keys, side).effects().rows():
        yield side.ids[core], keys.ids[key], operates, withdraws
