"""Core formats by id: a shop's own, from the sources that were added, and those that come with `pinning`."""

from collections.abc import Callable
from functools import cache
from typing import Any

from django.utils.translation import gettext_lazy

import pinning.formats
from keyctl.engine.refusals import refusing
from pinning.formats import CoreFormat

FormatSource = Callable[[str], dict[str, Any] | None]
_format_sources: list[FormatSource] = []


def add_format_source(source: FormatSource) -> None:
    """Where a shop's own formats come from. What a source gave once for an id, it gives for ever."""
    _format_sources.append(source)


@cache
@refusing(gettext_lazy("There is no such core format."))
def load_format(format_id: str) -> CoreFormat:
    for source in _format_sources:
        if (parameters := source(format_id)) is not None:
            return pinning.formats.parse_format(parameters)
    return pinning.formats.load(format_id)


@refusing(gettext_lazy("These parameters make no core format."))
def parse_format(parameters: dict[str, Any]) -> CoreFormat:
    return pinning.formats.parse_format(parameters)


def format_parameters(chosen: CoreFormat) -> dict[str, Any]:
    return pinning.formats.to_mapping(chosen)


def constructions() -> list[str]:
    """The constructions that the built-in formats know: what a housing can take."""
    return sorted({known.construction for known in pinning.formats.load_all()})


def format_names() -> list[tuple[str, str]]:
    return [(known.id, known.name) for known in pinning.formats.load_all()]
