"""Identifiers as building models write them: 128 bits in 22 signs (ISO 16739, IfcGloballyUniqueId)."""

import re
from typing import Final
from uuid import UUID

# The first sign stands for two bits alone.
IS_GLOBAL_ID: Final = re.compile(r"[0-3][0-9A-Za-z_$]{21}")
SIGNS: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_$"


def guid_of(pk: UUID) -> str:
    """
    >>> guid_of(UUID("f5364b23-0b5c-4d5e-8b3d-0d1a2f3e4c5b"))
    '3rDaiZ2rnDNeiz3HelFanR'
    """
    number, signs = pk.int, ""
    for _ in range(22):
        number, place = divmod(number, 64)
        signs = SIGNS[place] + signs
    return signs


def uuid_of(guid: str) -> UUID | None:
    """None where it is no such identifier.

    >>> uuid_of("0000000000000000000001"), uuid_of("17")
    (UUID('00000000-0000-0000-0000-000000000001'), None)
    """
    if not IS_GLOBAL_ID.fullmatch(guid):
        return None
    number = 0
    for sign in guid:
        number = number * 64 + SIGNS.index(sign)
    return UUID(int=number)
