"""Requests made up from a description, against the whole application in process.

What is made up names things that exist in most of its places, and comes with tokens of every kind: else most
requests would be answered that nothing is here.
"""

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, MutableMapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.schemas import APIOperation
from schemathesis.specs.openapi import checks

from keyctl.wsgi import application

# How many in all; many more on demand: KEYCTL_FUZZ_CASES=200000, and others by another seed.
CASES = int(os.environ.get("KEYCTL_FUZZ_CASES", "8000"))
SEED = int(os.environ.get("KEYCTL_FUZZ_SEED", "1"))
# So many a test at most, so that several workers share the work.
PIECE = 250

CHECKS = [
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]

Operation = APIOperation[Any, Any, Any, Any]
Known = Mapping[str, Sequence[str]]
Draw = Callable[[Any], Any]


@dataclass(frozen=True)
class Piece:
    """So many made-up requests of one operation; what fits its description, or what does not."""

    method: str
    path: str
    mode: GenerationMode
    number: int
    seed: int

    def __str__(self) -> str:
        return f"{self.method.upper()} {self.path} {self.mode} {self.seed}"


def pieces(weights: Mapping[tuple[str, str], int], number: int) -> Iterator[Piece]:
    """Each operation gets its share of the number, half of it requests that do not fit."""
    whole = sum(weights.values())
    for (method, path), weight in weights.items():
        for mode in GenerationMode:
            left = -(-number * weight // (2 * whole))
            for place in range(-(-left // PIECE)):
                yield Piece(method, path, mode, min(PIECE, left - place * PIECE), SEED * 1000 + place)


def run(piece: Piece, description: dict[str, Any], known: Known, bearers: Sequence[str]) -> Counter[int]:
    """How often each status came; every request is undone after its answer was looked at."""
    operation: Operation = schema_of(description)[piece.path][piece.method]
    found = Counter[int]()

    @seed(piece.seed)
    @settings(
        max_examples=piece.number,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=piece.mode), more=st.data())
    def attempt(case: Any, more: st.DataObject) -> None:
        name_things(case, known, more.draw)
        headers = {"Authorization": more.draw(st.sampled_from(bearers))}
        with transaction.atomic():
            response = case.call(headers=headers)
            transaction.set_rollback(True)
        found[response.status_code] += 1
        case.validate_response(response, checks=CHECKS)

    with connection_kept():
        attempt()
    return found


_schemas: dict[int, Any] = {}


def schema_of(description: dict[str, Any]) -> Any:
    """Read once: it takes as long as a hundred requests."""
    if id(description) not in _schemas:
        schema = schemathesis.openapi.from_dict(description)
        schema.app = application
        _schemas[id(description)] = schema
    return _schemas[id(description)]


@contextmanager
def connection_kept() -> Iterator[None]:
    """The end of a request closes no connection that a test's world lives in: as with Django's client."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in signals:
            signal.connect(close_old_connections)


def name_things(case: Any, known: Known, draw: Draw) -> None:
    """Lay identifiers that exist where an identifier belongs, and keys and tags in the head, three times in
    four."""
    for place in (case.path_parameters, case.query, case.body, case.headers):
        _name(place, known, draw)


def _name(place: Any, known: Known, draw: Draw) -> None:
    if isinstance(place, list):
        for each in place:
            _name(each, known, draw)
    elif isinstance(place, MutableMapping):
        for name, value in list(place.items()):
            if name in known and draw(st.integers(0, 3)) < 3:
                place[name] = _like(value, known[name], draw)
            else:
                _name(value, known, draw)


def _like(value: Any, ids: Sequence[str], draw: Draw) -> Any:
    if isinstance(value, list):
        return draw(st.lists(st.sampled_from(ids), min_size=1, max_size=3, unique=True))
    return draw(st.sampled_from(ids))
