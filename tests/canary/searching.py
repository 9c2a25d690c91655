"""Looking for secrets in whatever the product leaves behind, in every way in which they could be written.

A secret is a run of numbers: the cuts of a key, the pins of a core, what a system was drawn from. An artefact
is first looked at in all its forms (text without tags, UTF-16, hexadecimal, base64, what a PDF or a workbook
says); then every run of numbers in it is held against every run of the secrets.
"""

import binascii
import gzip
import hashlib
import io
import json
import re
import zipfile
import zlib
from base64 import b64decode
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

# As many numbers one after the other are no coincidence.
WINDOW = 7
LEAST_DISTINCT = 4
MOST_DEEP = 3

# Numbers with signs between them that are no letters: spaced, dashed, in a list, in an array, in cells.
# A letter may stand before each, as before pins.
RUN = re.compile(rb"\d+(?:[^0-9A-Za-z]{1,12}(?:[A-Z][^0-9A-Za-z]{0,4})?\d+){%d,}" % (WINDOW - 1))
# Digits side by side, not part of a longer number, of a fraction or of something hexadecimal.
PLAIN = re.compile(rb"(?<![0-9a-fA-F])(?<!\d\.)\d{%d,%d}(?![0-9a-fA-F])" % (WINDOW, 2 * WINDOW))
# How long something took, as a log writes it: twenty thousand of them hold any seven digits sooner or later.
SECONDS = re.compile(rb"(?<![\d.])0\.\d{12,}(?![\d.])")
NAME = re.compile(rb'"[A-Za-z_]+"\s*:')
NUMBER = re.compile(rb"\d+")
TAG = re.compile(rb"<[^>]{0,2000}>")
HEX = re.compile(rb"(?:[0-9a-fA-F]{2}){%d,}" % WINDOW)
DIGEST = re.compile(rb"(?<![0-9a-fA-F])[0-9a-fA-F]{32,128}(?![0-9a-fA-F])")
BASE64 = re.compile(rb"[A-Za-z0-9+/_-]{%d,}" % (WINDOW + 2))
WIDE = re.compile(rb"(?:[\x20-\x7e]\x00){%d,}|(?:\x00[\x20-\x7e]){%d,}" % (WINDOW, WINDOW))
# What decoded bytes must hold to be looked at further.
DIGITS = re.compile(rb"(?:\d[^0-9A-Za-z]{0,6}){%d}" % WINDOW)
HASHES = ("md5", "sha1", "sha256", "sha512", "blake2b", "blake2s", "sha3_256")

Numbers = tuple[int, ...]


@dataclass
class Canaries:
    """Every window of every secret, both ways round; texts as they are sealed; digests that want no key."""

    windows: dict[Numbers, str] = field(default_factory=dict)
    texts: dict[bytes, str] = field(default_factory=dict)
    digests: dict[bytes, str] = field(default_factory=dict)

    def add(self, name: str, text: str) -> None:
        if len(text) >= WINDOW and any(sign.isdigit() for sign in text):
            self.texts[text.encode()] = name
        for numbers in runs_of(text):
            for way in (numbers, numbers[::-1]):
                for window in windows_of(way):
                    self.windows[window] = name
        for said in renderings(text):
            for hash_name in HASHES:
                digest = hashlib.new(hash_name, said.encode()).hexdigest()
                self.digests[digest.encode()] = name


def runs_of(text: str) -> Iterator[Numbers]:
    """The numbers of a sealed text: a bitting's digits each, a list's numbers, and all of them together."""
    found = re.findall(r"\d+", text)
    every: list[int] = []
    for number in found:
        digits = [int(digit) for digit in number] if len(number) >= WINDOW - 2 else [int(number)]
        every += digits
        if len(digits) >= WINDOW:
            yield tuple(digits)
    yield tuple(every)
    yield from pins_of(text)


def pins_of(text: str) -> Iterator[Numbers]:
    """The pins of a core as pages set them: by position, with its number and the sum, and by kind."""
    if not text.startswith('[{"position"'):
        return
    stacks = json.loads(text)
    plain = [[stack["bottom"], *stack["masters"], stack["control"], stack["top"]] for stack in stacks]
    yield tuple(number for pins in plain for number in pins)
    yield tuple(number for nth, pins in enumerate(plain, 1) for number in (nth, *pins, sum(pins)))
    yield tuple(number for pins in plain for number in (*pins, sum(pins)))
    yield from (tuple(stack[kind] for stack in stacks) for kind in ("bottom", "control", "top"))


def windows_of(numbers: Numbers) -> Iterator[Numbers]:
    """Such as could not be anything: a row of equal or counted-up numbers is on any page."""
    for start in range(len(numbers) - WINDOW + 1):
        window = numbers[start : start + WINDOW]
        steps = {later - sooner for sooner, later in pairwise(window)}
        if len(set(window)) >= LEAST_DISTINCT and len(steps) >= LEAST_DISTINCT:
            yield window


def renderings(text: str) -> Iterator[str]:
    yield text
    for gap in (" ", "-", ",", ", ", "."):
        yield gap.join(text)


@dataclass(frozen=True)
class Hit:
    place: str
    canary: str
    form: str

    def __str__(self) -> str:
        return f"{self.place}: {self.canary} ({self.form})"


def search(place: str, data: bytes, canaries: Canaries, *, sealed: bool = False) -> list[Hit]:
    """``sealed``: nothing of what the vault holds may stand there, whatever it is."""
    found = {Hit(place, name, form) for form, view in views(data) for name in _in(view, canaries)}
    if sealed:
        whole = SECONDS.sub(b"", data)
        found |= {Hit(place, name, "as sealed") for text, name in canaries.texts.items() if text in whole}
    return sorted(found, key=str)


def _in(view: bytes, canaries: Canaries) -> Iterator[str]:
    for match in PLAIN.finditer(view):
        digits = tuple(byte - 48 for byte in match.group())
        # Two columns of a database stand side by side.
        yield from _held_against(digits[:WINDOW], canaries)
        yield from _held_against(digits[-WINDOW:], canaries)
    for match in RUN.finditer(view):
        numbers = [int(number) for number in NUMBER.findall(match.group()) if len(number) < 9]
        yield from _held_against(tuple(numbers), canaries)
    for match in DIGEST.finditer(view):
        if name := canaries.digests.get(match.group().lower()):
            yield f"a digest without a key of {name}"


def _held_against(numbers: Numbers, canaries: Canaries) -> Iterator[str]:
    for start in range(len(numbers) - WINDOW + 1):
        if name := canaries.windows.get(numbers[start : start + WINDOW]):
            yield name


def views(data: bytes, deep: int = 0) -> Iterator[tuple[str, bytes]]:
    """The artefact itself and what can be read out of it."""
    yield "plain", data
    if b"<" in data:
        yield "without tags", TAG.sub(b" ", data)
    if NAME.search(data):
        yield "without names", NAME.sub(b" ", data)
    if deep < MOST_DEEP:
        for form, inner in (*_unpacked(data), *_decoded(data)):
            yield from ((f"{form}, {further}", view) for further, view in views(inner, deep + 1))


def _unpacked(data: bytes) -> Iterator[tuple[str, bytes]]:
    # The beginning of one, as in a line of a mail, says nothing.
    if data.startswith(b"%PDF") and b"%%EOF" in data[-64:]:
        yield "PDF", _text_of_pdf(data)
    if data.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            yield from ((f"in {name}", archive.read(name)) for name in archive.namelist())
    if data.startswith(b"\x1f\x8b"):
        yield "gzip", gzip.decompress(data)
    if data[:2] in {b"\x78\x01", b"\x78\x9c", b"\x78\xda"}:
        try:
            yield "zlib", zlib.decompress(data)
        except zlib.error:
            return


def _text_of_pdf(data: bytes) -> bytes:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document).encode()
    finally:
        document.close()


def _decoded(data: bytes) -> Iterator[tuple[str, bytes]]:
    for match in WIDE.finditer(data):
        yield "UTF-16", match.group().replace(b"\x00", b"")
    for match in HEX.finditer(data):
        yield from _worth_it("hexadecimal", (binascii.unhexlify(part) for part in _pairs(match.group())))
    for match in BASE64.finditer(data):
        yield from _worth_it("base64", _shifted(match.group()))


def _pairs(digits: bytes) -> Iterable[bytes]:
    """A run may begin in the middle of a byte."""
    return (digits, digits[1:-1])


def _shifted(signs: bytes) -> Iterator[bytes]:
    """A run may begin in the middle of a group of four."""
    plain = signs.translate(bytes.maketrans(b"-_", b"+/"))
    for start in range(4):
        part = plain[start:]
        yield b64decode(part[: len(part) & ~3] or b"")


def _worth_it(form: str, parts: Iterable[bytes]) -> Iterator[tuple[str, bytes]]:
    for part in parts:
        if part[:1] == b"\x78" or b"</" in part or DIGITS.search(part) or DIGEST.search(part):
            yield form, part


def rows_of(database: Any) -> Iterator[bytes]:
    """Every value of every table of a connection to SQLite, a row a line; bytes in hexadecimal."""
    tables = [name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    for table in tables:
        for row in database.execute(f'SELECT * FROM "{table}"'):  # noqa: S608 (names from the schema)
            values = [value.hex() if isinstance(value, bytes) else str(value) for value in row]
            yield f"{table}: {' ~ '.join(values)}\n".encode()
