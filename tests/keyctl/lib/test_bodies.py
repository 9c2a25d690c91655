"""JSON as programs send it, held against RFC 8259 and against what a database keeps."""

import json

import pytest

from keyctl.lib.bodies import JsonBounds, NotJson, TooLarge, read_json

BOUNDS = JsonBounds(bytes=10_000, depth=5, values=100)


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        "[]",
        "null",
        '"T\u00fcr"',
        "1",
        "-0",
        "1.5e3",
        str(2**63 - 1),
        '{"a": [1, {"b": null}]}',
        " [1 ,\n2] ",
    ],
)
def test_what_is_json_is_read_as_the_library_reads_it(text: str) -> None:
    assert read_json(text.encode(), BOUNDS) == json.loads(text)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "Line 1, column 1: Expecting value."),
        (b'{"a":\n 1,}', "Line 2, column 4"),
        (b"\xff", "not UTF-8: see byte 1."),
        (b"\xef\xbb\xbf{}", "Line 1, column 1"),
        (b"NaN", "NaN is no JSON value."),
        (b"[-Infinity]", "-Infinity is no JSON value."),
        (b"1e999", "The number 1e999 is larger than are taken."),
        (b"[-1e400]", "larger than are taken."),
        (str(2**63).encode(), "more digits than are taken."),
        (b"9" * 9_000, "The number 999999999999"),
        (b'{"a": 1, "b": 2, "a": 1}', "The name 'a' stands twice in one object."),
        (b'[{"\\u0061": 1, "a": 1}]', "stands twice"),
        (b"[[[[[[1]]]]]]", "nested deeper than 5 levels."),
        (b"[" * 5_000 + b"]" * 5_000, "too deep."),
        (b"[" + b"1," * 200 + b"1]", "more than 100 values"),
        (b'"' + b"x" * 10_000 + b'"', "larger than 10000 bytes"),
    ],
)
def test_what_is_not_is_refused_with_its_place(raw: bytes, words: str) -> None:
    with pytest.raises(NotJson) as refused:
        read_json(raw, BOUNDS)
    assert words in str(refused.value)
    assert isinstance(refused.value, TooLarge) == (len(raw) > BOUNDS.bytes)
