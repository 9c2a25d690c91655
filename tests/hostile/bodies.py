"""JSON that somebody means badly: bodies of programs, and what a tablet exported."""

import json
from collections.abc import Callable
from random import Random
from typing import Any

from tests.hostile.workbooks import damaged

SOME_ID = "3f2504e0-4f89-41d3-9a0c-0305e82c3301"
WILD: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    2**31,
    2**63,
    -(2**63) - 1,
    10**30,
    1.5,
    1e308,
    "",
    "x" * 70_000,
    "\x00",
    "\ud800",
    "\u202e",
    [],
    {},
    [[]],
    {"a": {}},
    SOME_ID,
    "../..",
    "<b>",
    "'; --",
    "9999-12-31T23:59:59-23:59",
    "2026-02-30T00:00:00Z",
    "٣",
    "1e5",
)


def envelope() -> dict[str, Any]:
    event = {
        "event_id": SOME_ID,
        "sequence": 1,
        "kind": "noted",
        "claimed_at": "2026-11-01T10:00:00+00:00",
        "person": SOME_ID,
        "body": {"door": None, "line": None, "text": "Squeaks"},
    }
    moment = "2026-11-01T10:00:00+00:00"
    return {"device": SOME_ID, "exported_at": moment, "sent_at": moment, "events": [event]}


def raw(body: Any) -> bytes:
    return json.dumps(body).encode()


def deep(dice: Random) -> bytes:
    times, (opening, closing) = (
        dice.randrange(20, 100_000),
        dice.choice([("[", "]"), ('{"a":', "}"), ('[{"a":', "}]")]),
    )
    return (opening * times + "1" + closing * times)[:1_040_000].encode()


def wide(dice: Random) -> bytes:
    return dice.choice(
        [
            b"[" + b"1," * 500_000 + b"1]",
            b'{"events":[' + b"{}," * 300_000 + b"{}]}",
            b"[" + b"[]," * 300_000 + b"1]",
        ]
    )


def not_quite_json(dice: Random) -> bytes:
    return dice.choice(
        [
            b"",
            b"{",
            b"nul",
            b"NaN",
            b"[NaN]",
            b"-Infinity",
            b"1e999",
            b"9" * 100_000,
            b"-" + b"9" * 20,
            b"'a'",
            b"{'a':1}",
            b'{"a":1}{"a":2}',
            b"[1,]",
            b"\xef\xbb\xbf{}",
            b"\xff\xfe{\x00}\x00",
            b'"\\ud800"',
            b'"\\u0000"',
            b'"\x00"',
            b"// x\n{}",
            b'{"a":1,"a":2}',
            b'{"events":[],"events":[{}]}',
            b"0x10",
            b"01",
            b"[" * 900_000,
            b'"' + b"x" * 900_000,
        ]
    )


def wrong_member(dice: Random) -> bytes:
    body = envelope()
    target = dice.choice([body, body["events"][0], body["events"][0]["body"]])
    target[dice.choice([*target, "more", "kind"])] = dice.choice(WILD)
    return raw(body)


def missing_member(dice: Random) -> bytes:
    body = envelope()
    target = dice.choice([body, body["events"][0], body["events"][0]["body"]])
    del target[dice.choice(list(target))]
    return raw(body)


def wrong_whole(dice: Random) -> bytes:
    return raw(
        dice.choice(
            [*WILD, [envelope()] * 30, {"events": {}}, [None], [[envelope()]], {"events": [None, 7, []]}]
        )
    )


def doubled(dice: Random) -> bytes:
    body = envelope()
    body["events"] = body["events"] * dice.randrange(2, 300)
    return raw(body)


def other_encoding(dice: Random) -> bytes:
    return json.dumps(envelope()).encode(dice.choice(["utf-16", "utf-32", "utf-8-sig", "utf-7", "cp037"]))


def changed(dice: Random) -> bytes:
    return damaged(raw(envelope()), dice)


def cut_short(dice: Random) -> bytes:
    content = raw(envelope())
    return content[: dice.randrange(len(content))]


MAKERS: tuple[Callable[[Random], bytes], ...] = (
    deep,
    wide,
    not_quite_json,
    not_quite_json,
    wrong_member,
    wrong_member,
    wrong_member,
    missing_member,
    wrong_whole,
    doubled,
    other_encoding,
    changed,
    changed,
    cut_short,
)
