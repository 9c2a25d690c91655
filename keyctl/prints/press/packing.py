"""Areas as plain data and back, for a job that sets later what was opened now."""

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from keyctl.prints.press.blocks import Area, Block, Boxes, Code, Column, Grid, Words

PARTS = {"words": Words, "boxes": Boxes, "grid": Grid}


def pack(areas: Iterable[Area]) -> list[Any]:
    return [[area.height, [_packed(block) for block in area.blocks]] for area in areas]


def unpack(packed: Iterable[Any]) -> tuple[Area, ...]:
    return tuple(Area(height, tuple(map(_block, blocks))) for height, blocks in packed)


def _packed(block: Block) -> list[Any]:
    names = {kind: name for name, kind in PARTS.items()}
    parts = [[names[type(part)], asdict(part) | _heads(part)] for part in block.parts]
    return [parts, asdict(block.code) if block.code else None]


def _heads(part: Words | Grid | Boxes) -> dict[str, Any]:
    return {"heads": sorted(part.heads)} if isinstance(part, Grid) else {}


def _block(packed: list[Any]) -> Block:
    parts, code = packed
    return Block(tuple(_part(name, facts) for name, facts in parts), Code(**code) if code else None)


def _part(name: str, facts: dict[str, Any]) -> Words | Grid | Boxes:
    if name == "words":
        return Words(**facts)
    if name == "boxes":
        return Boxes(**facts | {"labels": tuple(facts["labels"])})
    columns = tuple(Column(**column) for column in facts["columns"])
    rows = tuple(tuple(map(tuple, row)) for row in facts["rows"])
    return Grid(**facts | {"columns": columns, "rows": rows, "heads": frozenset(facts["heads"])})
