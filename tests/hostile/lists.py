"""Tables as plain text that somebody means badly, or that a program wrote in another way than one expects."""

from collections.abc import Callable
from random import Random

from tests.hostile.workbooks import damaged

GOOD = "Symbol,Bitting,Master,Kind,Door\r\nAA,361492,,master,\r\n1AA,583614,AA,change,Door 1\r\n"
CODES = [
    "utf-8",
    "utf-8-sig",
    "utf-16",
    "utf-16-le",
    "utf-16-be",
    "utf-32",
    "cp1252",
    "latin-1",
    "utf-7",
    "cp037",
]
FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "＝1+1",
    '=cmd|"/c calc"!A0',
    "=HYPERLINK(1)",
    "%0A=1",
]
ODD = [
    "\x00",
    "\x07",
    "\x1b[2J",
    "\u202e",
    "\u2066",
    "\ufeff",
    "\u200b",
    "\uffff",
    "\U0010ffff",
    "'",
    '"',
    "<script>",
    "\x1d",
]


def good(dice: Random) -> bytes:
    return GOOD.encode(dice.choice(CODES))


def another_end_of_line(dice: Random) -> bytes:
    ends = ["\r", "\n", "\r\n", "\n\r", "\r\r\n", "\u2028", "\x0b", "\x0c", "\x85"]
    return "".join(line + dice.choice(ends) for line in GOOD.splitlines() * 20).encode()


def quotes(dice: Random) -> bytes:
    text = dice.choice(['"', '""', '"a', 'a"b', '"a"b', "'\"'", '"\n', '","', '"a""'])
    return (GOOD + text * dice.randrange(1, 3_000)).encode()


def huge_field(dice: Random) -> bytes:
    mark = dice.choice(["", '"'])
    return f"{mark}{dice.choice('x9, ') * dice.randrange(150, 4_900_000)}{mark}\n".encode()


def wide(dice: Random) -> bytes:
    return (dice.choice([",", "a,", ";", "\t", '"",', "=,"]) * dice.randrange(30, 1_000_000)).encode()


def long(dice: Random) -> bytes:
    return (
        dice.choice(["a\n", "\n", ",\n", "\r", '"a"\n', "a,b,c\n"]) * dice.randrange(20_000, 800_000)
    ).encode()


def with_formulas(dice: Random) -> bytes:
    return f'{GOOD}{dice.choice(FORMULAS)},"{dice.choice(FORMULAS)}",,,\r\n'.encode()


def with_odd_signs(dice: Random) -> bytes:
    return f"{GOOD}A{dice.choice(ODD)}B,{dice.choice(ODD)},,,\r\n".encode("utf-8", "surrogatepass")


def halves_of_pairs(dice: Random) -> bytes:
    return (
        GOOD.encode()
        + dice.choice([b"\xed\xa0\x80", b"\xc0\x80", b"\xf8\x88\x80\x80\x80", b"\xff", b"\x80"]) * 3
    )


def half_of_utf16(dice: Random) -> bytes:
    content = dice.choice([b"\xff\xfe", b"\xfe\xff"]) + GOOD.encode("utf-16-le") + b"\x00\xd8"
    return content[: dice.randrange(1, len(content))]


def other_file(dice: Random) -> bytes:
    heads = [
        b"\x89PNG\r\n\x1a\n",
        b"%PDF-1.7\n",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        b"GIF89a",
        b"\x1f\x8b\x08",
        b"\x7fELF",
        b"<?xml version='1.0'?><x/>",
        b"<html>",
        b"{\\rtf1",
        b"#!/bin/sh\n",
        b"\xff\xd8\xff\xe0",
        b"SQLite format 3\x00",
    ]
    return dice.choice(heads) + dice.randbytes(dice.randrange(0, 3_000))


def noise(dice: Random) -> bytes:
    return dice.randbytes(dice.randrange(0, 20_000))


def printable_noise(dice: Random) -> bytes:
    return bytes(dice.choices(b"abc019,;\t\"\r\n '=", k=dice.randrange(0, 20_000)))


def changed(dice: Random) -> bytes:
    return damaged(GOOD.encode() * dice.randrange(1, 30), dice)


def cut_short(dice: Random) -> bytes:
    content = GOOD.encode("utf-8-sig")
    return content[: dice.randrange(len(content))]


def nothing(dice: Random) -> bytes:
    return dice.choice([b"", b"\n", b",", b" ", b"\xef\xbb\xbf", b"\xff\xfe", b'""', b"\r\n" * 5_000])


MAKERS: tuple[Callable[[Random], bytes], ...] = (
    good,
    another_end_of_line,
    quotes,
    huge_field,
    wide,
    long,
    with_formulas,
    with_odd_signs,
    halves_of_pairs,
    half_of_utf16,
    other_file,
    noise,
    printable_noise,
    changed,
    changed,
    cut_short,
    nothing,
)
