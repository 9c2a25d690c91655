"""Checks a history without the product: this one file and Python 3.9 or later suffice.

    python verifier.py history.jsonl --checkpoints FOLDER --key PUBLIC_KEY
    python verifier.py --proof proof.json --key PUBLIC_KEY
    python verifier.py --receipt "NUMBER:HASH:SIZE:PATH" --checkpoints FOLDER --key PUBLIC_KEY

An entry's hash is SHA-256 of 0x00, the hash before it, its number and its fields, each with its length first;
so each entry holds to all before it. An entry that names the request it was written in has the second form:
where the first has a length stands one that no field has. The same hash is the leaf of a Merkle tree after
RFC 9162, and a checkpoint is the tree's root, signed with Ed25519 (RFC 8032). Take the public key and the
checkpoints from where whoever could have changed the history could not change them.
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

Row = Any  # what a line of JSON holds
Point = tuple[int, int, int, int]

BEGINNING = bytes(32)
SIGNED_AS = b"keyctl checkpoint 1\n"
FIELDS = ("id", "at", "actor", "actor_name", "site", "verb", "sentence", "detail")
# The first line of an export names the newest form in it; the first knew no request.
KNOWN_FORMS = (1, 2)
# As they stand before a field; nearly all are short, and a history has millions.
LENGTHS = [size.to_bytes(4, "big") for size in range(512)]
SECOND_FORM = b"\xff\xff\xff\xff\x02"


def entry_bytes(before: bytes, number: int, entry: Row) -> bytes:
    """What is hashed of an entry, without the prefix of a leaf."""
    fields = [str(entry[name]) for name in FIELDS]
    parts = [before, number.to_bytes(8, "big")]
    if request := entry.get("request"):
        parts.append(SECOND_FORM)
        fields.append(str(request))
    for data in [field.encode() for field in (*fields, *entry["subjects"])]:
        size = len(data)
        parts.append(LENGTHS[size] if size < len(LENGTHS) else size.to_bytes(4, "big"))
        parts.append(data)
    return b"".join(parts)


def entry_hash(before: bytes, number: int, entry: Row) -> bytes:
    return leaf_hash(entry_bytes(before, number, entry))


# The Merkle tree, RFC 9162 section 2.1


def leaf_hash(data: bytes) -> bytes:
    return hashlib.sha256(b"\0" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\1" + left + right).digest()


class Tree:
    """Leaves one after the other; only the roots of its full subtrees are kept."""

    def __init__(self, leaves: Iterable[bytes] = ()) -> None:
        self.size = 0
        self._full: list[bytes] = []
        for leaf in leaves:
            self.add(leaf)

    def add(self, leaf: bytes) -> None:
        size = self.size
        while size & 1:
            leaf = node_hash(self._full.pop(), leaf)
            size >>= 1
        self._full.append(leaf)
        self.size += 1

    def root(self) -> bytes:
        if not self._full:
            return hashlib.sha256().digest()
        root = self._full[-1]
        for left in reversed(self._full[:-1]):
            root = node_hash(left, root)
        return root


def is_included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """RFC 9162 section 2.1.3.2."""
    if not 0 <= index < size:
        return False
    first, last = index, size - 1
    for node in path:
        if last == 0:
            return False
        if first & 1 or first == last:
            leaf = node_hash(node, leaf)
            while first and not first & 1:
                first, last = first >> 1, last >> 1
        else:
            leaf = node_hash(leaf, node)
        first, last = first >> 1, last >> 1
    return last == 0 and leaf == root


def is_consistent(old_size: int, old_root: bytes, size: int, root: bytes, path: Sequence[bytes]) -> bool:
    """RFC 9162 section 2.1.4.2: the tree of ``size`` leaves begins with the leaves of the old one."""
    if not 0 < old_size < size:
        return old_size == size and old_root == root and not path
    path = ([old_root] if old_size & (old_size - 1) == 0 else []) + list(path)
    if not path:
        return False
    first, last = old_size - 1, size - 1
    while first & 1:
        first, last = first >> 1, last >> 1
    old = new = path[0]
    for node in path[1:]:
        if last == 0:
            return False
        if first & 1 or first == last:
            old, new = node_hash(node, old), node_hash(node, new)
            while first and not first & 1:
                first, last = first >> 1, last >> 1
        else:
            new = node_hash(new, node)
        first, last = first >> 1, last >> 1
    return last == 0 and (old, new) == (old_root, root)


# Ed25519, RFC 8032 section 5.1: only to verify, so nothing here is secret and time may tell

P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)


def is_signed(key: bytes, message: bytes, signature: bytes) -> bool:
    if len(key) != 32 or len(signature) != 64:
        return False
    signer, commitment = _point(key), _point(signature[:32])
    scalar = int.from_bytes(signature[32:], "little")
    if signer is None or commitment is None or scalar >= ORDER:
        return False
    digest = hashlib.sha512(signature[:32] + key + message).digest()
    challenge = int.from_bytes(digest, "little") % ORDER
    left, right = _times(scalar, BASE), _sum(commitment, _times(challenge, signer))
    return all((left[axis] * right[2] - right[axis] * left[2]) % P == 0 for axis in (0, 1))


def _point(data: bytes) -> Point | None:
    """A point from its 32 bytes, or None where they are none (section 5.1.3)."""
    y = int.from_bytes(data, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    x = _x_of(y) if y < P else None
    if x is None or (x == 0 and sign):
        return None
    x = P - x if x & 1 != sign else x
    return (x, y, 1, x * y % P)


def _x_of(y: int) -> int | None:
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT_OF_MINUS_ONE % P
    return None if (x * x - square) % P else x


def _sum(one: Point, other: Point) -> Point:
    a = (one[1] - one[0]) * (other[1] - other[0]) % P
    b = (one[1] + one[0]) * (other[1] + other[0]) % P
    c, d = 2 * one[3] * other[3] * D % P, 2 * one[2] * other[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def _times(scalar: int, point: Point) -> Point:
    total: Point = (0, 1, 1, 0)
    while scalar:
        if scalar & 1:
            total = _sum(total, point)
        point, scalar = _sum(point, point), scalar >> 1
    return total


BASE_Y = 4 * pow(5, P - 2, P) % P
BASE_X = 15112221349535400772501151409588531511454012693041857206046113283949847762202
BASE = (BASE_X, BASE_Y, 1, BASE_X * BASE_Y % P)


# Checkpoints


def signed_bytes(checkpoint: Row) -> bytes:
    """What is signed of a checkpoint: all but the signature, with sorted names."""
    rest = {name: value for name, value in checkpoint.items() if name != "signature"}
    return SIGNED_AS + json.dumps(rest, sort_keys=True, separators=(",", ":")).encode()


def checkpoint_digest(checkpoint: Row) -> str:
    return hashlib.sha256(signed_bytes(checkpoint)).hexdigest()


def checkpoint_findings(
    checkpoints: Iterable[Row], key: bytes, is_signed: Callable[[bytes, bytes, bytes], bool] = is_signed
) -> Iterator[str]:
    """What is wrong with checkpoints that follow one another, without the history."""
    before = None
    for each in checkpoints:
        name = f"checkpoint {each['size']}"
        if not is_signed(key, signed_bytes(each), bytes.fromhex(each["signature"])):
            yield f"{name}: its signature is not of this key."
        if each["before"] != ("" if before is None else checkpoint_digest(before)):
            yield f"{name}: it does not name the checkpoint before it; one was taken away or put in."
        elif before is not None and not _follows(before, each):
            yield f"{name}: its tree does not begin with the tree of the checkpoint before it."
        before = each


def _follows(old: Row, new: Row) -> bool:
    path = [bytes.fromhex(node) for node in new["consistency"]]
    roots = bytes.fromhex(old["root"]), bytes.fromhex(new["root"])
    return is_consistent(old["size"], roots[0], new["size"], roots[1], path)


# The history


class Step(NamedTuple):
    """An entry's place as it stands, and ``found``: the hash of what the entry says now."""

    number: int
    before: bytes
    own: bytes
    found: bytes


def history_findings(entries: Iterable[Row], checkpoints: Iterable[Row]) -> Iterator[str]:
    """What is wrong with entries read in the order of their numbers, and against checkpoints."""
    return chain_findings(map(step_of, entries), checkpoints, Tree(), BEGINNING)


def step_of(entry: Row) -> Step:
    number, before = entry["number"], bytes.fromhex(entry["before"])
    return Step(number, before, bytes.fromhex(entry["hash"]), entry_hash(before, number, entry))


def chain_findings(
    steps: Iterable[Step], checkpoints: Iterable[Row], tree: Tree, before: bytes
) -> Iterator[str]:
    """``tree`` holds the entries before the first step, and ``before`` the hash of the last of them."""
    roots = {each["size"]: each["root"] for each in checkpoints}
    expected = tree.size
    for number, stands_after, own, found in steps:
        expected += 1
        if number != expected:
            yield f"entry {expected}: it is missing; after {expected - 1} comes {number}."
            expected = number
        if stands_after != before:
            yield f"entry {number}: it does not follow on the entry before it."
        if found != own:
            yield f"entry {number}: it is not what was recorded."
        before = own
        tree.add(found)
        if tree.size in roots and roots[tree.size] != tree.root().hex():
            yield f"checkpoint {tree.size}: the entries up to here are not those that were signed."
    for size in sorted(size for size in roots if size > tree.size):
        yield f"checkpoint {size}: it was signed with as many entries, and there are {tree.size}."


def proof_findings(proof: Row, key: bytes) -> Iterator[str]:
    """What is wrong with the proof that one entry is in a signed history."""
    entry, checkpoint = proof["entry"], proof["checkpoint"]
    if not is_signed(key, signed_bytes(checkpoint), bytes.fromhex(checkpoint["signature"])):
        yield "The checkpoint's signature is not of this key."
    leaf = entry_hash(bytes.fromhex(entry["before"]), entry["number"], entry)
    path = [bytes.fromhex(node) for node in proof["path"]]
    root = bytes.fromhex(checkpoint["root"])
    if not is_included(leaf, entry["number"] - 1, checkpoint["size"], path, root):
        yield "The entry is not in the history that was signed."


def receipt_findings(printed: str, checkpoints: Iterable[Row]) -> Iterator[str]:
    """What is wrong with the proof on a receipt, which names the entry by its hash alone."""
    # Lines of paper break anywhere.
    number, leaf, size, nodes = "".join(printed.split()).split(":")
    data = base64.b64decode(nodes)
    path = [data[start : start + 32] for start in range(0, len(data), 32)]
    roots = [bytes.fromhex(each["root"]) for each in checkpoints if each["size"] == int(size)]
    if not roots:
        yield f"There is no checkpoint of {size} entries."
    elif not is_included(bytes.fromhex(leaf), int(number) - 1, int(size), path, roots[0]):
        yield "The entry is not in the history that was signed."


# The command


def read_history(file: str) -> Iterator[Row]:
    """The entries of an export, one line each; the first line says what the file is."""
    with Path(file).open(encoding="utf-8") as lines:
        if json.loads(next(lines, "{}")).get("history") not in KNOWN_FORMS:
            raise ValueError("This is no exported history of a form that is known here.")
        for line in lines:
            yield json.loads(line)


def read_checkpoints(folder: str) -> list[Row]:
    """In the order of their sizes."""
    found = [json.loads(file.read_text(encoding="utf-8")) for file in Path(folder).glob("*.json")]
    return sorted(found, key=lambda checkpoint: checkpoint["size"])


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Check an exported history, or the proof of one entry.")
    parser.add_argument("history", nargs="?", help="the file that export_history wrote")
    parser.add_argument("--checkpoints", help="the folder of checkpoints, from a place of your own")
    parser.add_argument("--proof", help="the file that prove_event wrote")
    parser.add_argument("--receipt", help="the proof on a receipt, as it is printed")
    parser.add_argument("--key", required=True, help="the public key, 64 hexadecimal digits")
    asked = parser.parse_args(arguments)
    try:
        found = list(_findings(asked, bytes.fromhex(asked.key)))
    except (OSError, KeyError, TypeError, ValueError) as error:
        found = [f"What was given cannot be read: {error}."]
    for finding in found or ["Nothing is wrong."]:
        print(finding)  # noqa: T201
    return 1 if found else 0


def _findings(asked: argparse.Namespace, key: bytes) -> Iterator[str]:
    if asked.proof:
        yield from proof_findings(json.loads(Path(asked.proof).read_text(encoding="utf-8")), key)
    checkpoints = read_checkpoints(asked.checkpoints) if asked.checkpoints else []
    yield from checkpoint_findings(checkpoints, key)
    if asked.receipt:
        yield from receipt_findings(asked.receipt, checkpoints)
    if asked.history:
        if not checkpoints:
            yield "There is no checkpoint to check against."
        yield from history_findings(read_history(asked.history), checkpoints)


if __name__ == "__main__":  # pragma: no cover (run as a file of its own, in a process of its own)
    sys.exit(main())
