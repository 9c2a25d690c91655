"""The search sees: a secret that is planted in any form and any kind of artefact is found; chance is not."""

import base64
import gzip
import hashlib
import io
import json
import sqlite3
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from tests.canary.searching import Canaries, rows_of, search

BITTING = "4096153"
DIGITS = [int(digit) for digit in BITTING]
PINS = {"stacks": [[4, 2, 8, 9], [0, 3, 10, 10], [9, 1, 4, 9]]}
FLAT = [number for stack in PINS["stacks"] for number in stack]

STACKS = [
    (4, [2], 8, 9),
    (0, [6], 7, 10),
    (9, [], 1, 13),
    (6, [3], 4, 10),
    (1, [], 18, 4),
    (5, [], 8, 10),
    (3, [], 9, 11),
]
CORE = json.dumps(
    [
        {"position": nth, "bottom": bottom, "masters": masters, "control": control, "top": top}
        for nth, (bottom, masters, control, top) in enumerate(STACKS, 1)
    ],
    separators=(",", ":"),
)

FORMS: dict[str, str] = {
    "plain": f"the key {BITTING} is",
    "spaced": " ".join(BITTING),
    "dashed": "-".join(BITTING),
    "comma list": ",".join(BITTING),
    "list with gaps": ", ".join(BITTING),
    "lines": "\n".join(BITTING),
    "array": json.dumps({"cuts": DIGITS}),
    "in quotes": json.dumps([str(digit) for digit in DIGITS]),
    "cells": "".join(f'<td class="number">{digit}</td>\n' for digit in BITTING),
    "tip first": BITTING[::-1],
    "attribute": f'<div data-cuts="{" ".join(BITTING)}"></div>',
    "pins": json.dumps(PINS),
    "pins in cells": "".join(
        f"<tr><td>{'</td><td>'.join(map(str, stack))}</td></tr>" for stack in PINS["stacks"]
    ),
    "pins of a core": json.dumps({"stacks": json.loads(CORE)}),
    "pins of a core as a table": "".join(
        f"<tr><th>{stack['position']}</th><td>{stack['bottom']}</td><td>{(stack['masters'] or ['–'])[0]}</td>"
        f"<td>{stack['control']}</td><td>{stack['top']}</td></tr>\n"
        for stack in json.loads(CORE)
    ),
    "pins of a core with letters": "; ".join(
        f"B {stack['bottom']} C {stack['control']} T {stack['top']}" for stack in json.loads(CORE)[4:]
    ),
    "bottom pins": " | ".join(str(stack["bottom"]) for stack in json.loads(CORE)),
    "a digest that wants no key": hashlib.sha256(BITTING.encode()).hexdigest(),
    "a digest of it spaced": hashlib.md5(" ".join(BITTING).encode()).hexdigest().upper(),  # noqa: S324
}
WRAPPED: dict[str, Callable[[bytes], bytes]] = {
    "as it is": lambda data: data,
    "UTF-16": lambda data: data.decode().encode("utf-16-le"),
    "UTF-16, other way": lambda data: data.decode().encode("utf-16-be"),
    "hexadecimal": lambda data: b"x" + data.hex().encode(),
    "base64": lambda data: base64.b64encode(b"ab" + data + b"yz"),
    "base64 for addresses": base64.urlsafe_b64encode,
    "base64, begun before": lambda data: b"Z" + base64.b64encode(data),
    "gzip": gzip.compress,
    "zlib in hexadecimal": lambda data: zlib.compress(data).hex().encode(),
}


def _archive(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", data)
    return out.getvalue()


WRAPPED["workbook"] = _archive


@pytest.fixture(scope="module")
def canaries() -> Canaries:
    made = Canaries()
    made.add("a bitting", BITTING)
    made.add("pins", json.dumps(PINS))
    made.add("a core", CORE)
    return made


@pytest.mark.parametrize("wrap", WRAPPED)
@pytest.mark.parametrize("form", FORMS)
def test_it_is_found(form: str, wrap: str, canaries: Canaries) -> None:
    noise = b"<p>Nothing to see, 12 of 25 pages.</p>\n"
    data = noise + FORMS[form].encode() + b"\n" + noise
    assert search("page", WRAPPED[wrap](data), canaries)


def test_it_is_found_in_a_database_and_in_what_is_not_written_to_it_yet(
    canaries: Canaries, tmp_path: Path
) -> None:
    file = tmp_path / "estate.sqlite3"
    database = sqlite3.connect(file)
    database.executescript("PRAGMA journal_mode = WAL; CREATE TABLE t (word TEXT, raw BLOB);")
    database.execute("INSERT INTO t VALUES (?, ?)", [f"cut {BITTING}", BITTING.encode()])
    database.commit()
    assert not search("database", file.read_bytes(), canaries)
    assert search("log of the database", Path(f"{file}-wal").read_bytes(), canaries, sealed=True)
    dumped = b"".join(rows_of(database))
    database.close()
    assert search("database", file.read_bytes(), canaries)
    forms = {hit.form for hit in search("rows", dumped, canaries)}
    assert {"plain", "hexadecimal, plain"} <= forms


def test_it_is_found_in_a_pdf(canaries: Canaries) -> None:
    from weasyprint import HTML

    written = HTML(string=f"<table><tr>{FORMS['cells']}</tr></table>").write_pdf()
    assert search("paper", written, canaries)
    assert not search("paper", HTML(string="<p>Nothing</p>").write_pdf(), canaries)


def test_chance_is_no_hit(canaries: Canaries) -> None:
    """A million numbers and as many bytes, and rows that stand on any page."""
    rng = Random(5)
    numbers = " ".join(str(rng.randrange(10 ** rng.randint(1, 8))) for _ in range(20_000))
    for data in (numbers.encode(), rng.randbytes(1_000_000), rng.randbytes(300_000).hex().encode()):
        assert not search("noise", data, canaries)
    for row in ("1 2 3 4 5 6 7 8 9", "0,0,0,0,0,0,0,0", "7 6 5 4 3 2 1 0", "2026-11-27 10:20:30.123456"):
        made = Canaries()
        made.add("a row", row)
        assert not search("page", b"Pages 1 2 3 4 5 6 7 8 9, 7 6 5 4 3 2 1 0", made)


def test_a_measured_time_is_no_hit_and_a_secret_beside_one_is(canaries: Canaries) -> None:
    """The clock's ticks make the same digits again and again; all else at rest is taken literally."""
    took = f'"duration": 0.0001219{BITTING}8073, "sql": '.encode()
    assert search("log", took, canaries, sealed=True) == []
    for planted in (f"{BITTING}", f"x{BITTING}8", f"0.5{BITTING}", f"17{BITTING}4"):
        assert search("log", took + planted.encode(), canaries, sealed=True), planted
