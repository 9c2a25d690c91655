"""The verifier against published values, against models written down here, and as a file of its own."""

import hashlib
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from keyctl.audit import merkle, verifier

# RFC 8032 section 7.1: secret key, public key, message, signature; tests 1, 2, 3 and SHA(abc).
SIGNED = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
        "d25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
        "387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
        "4a7c15e9716ed28dc027beceea1ec40a",
    ),
    (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd"
        "454d4423643ce80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e030"
        "3dca179c138ac17ad9bef1177331a704",
    ),
]

# The leaves and roots that the tests of logs after RFC 6962 share; the tree of RFC 9162 is the same.
LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
MOST = 20


@pytest.mark.parametrize(("secret", "public", "message", "signature"), SIGNED)
def test_the_published_signatures_hold(secret: str, public: str, message: str, signature: str) -> None:
    key, said, signed = (bytes.fromhex(each) for each in (public, message, signature))
    own = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert own.public_key().public_bytes_raw() == key
    assert own.sign(said) == signed
    assert verifier.is_signed(key, said, signed)


@pytest.mark.parametrize(("secret", "public", "message", "signature"), SIGNED[1:2])
def test_a_signature_with_one_bit_changed_does_not(
    secret: str, public: str, message: str, signature: str
) -> None:
    key, said, signed = (bytes.fromhex(each) for each in (public, message, signature))
    for place in range(0, 512, 37):
        assert not verifier.is_signed(key, said, flipped(signed, place))
        assert not verifier.is_signed(flipped(key, place % 256), said, signed)
        assert not verifier.is_signed(key, flipped(said, place % 8), signed)
    more = int.from_bytes(signed[32:], "little") + verifier.ORDER
    assert not verifier.is_signed(key, said, signed[:32] + more.to_bytes(32, "little"))
    assert not verifier.is_signed(key[:31], said, signed)


def flipped(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


def test_the_base_point_is_the_published_one() -> None:
    encoded = verifier.BASE_Y.to_bytes(32, "little")
    assert verifier._point(encoded) == verifier.BASE


@pytest.mark.parametrize("size", range(len(ROOTS)))
def test_the_published_roots_come_out(size: int) -> None:
    tree = verifier.Tree()
    for leaf in LEAVES[:size]:
        tree.add(verifier.leaf_hash(bytes.fromhex(leaf)))
    assert tree.root().hex() == ROOTS[size]


def root(leaves: list[bytes]) -> bytes:
    """The definition, RFC 9162 section 2.1.1."""
    if len(leaves) == 1:
        return leaves[0]
    middle = max(1 << power for power in range(8) if 1 << power < len(leaves))
    return hashlib.sha256(b"\1" + root(leaves[:middle]) + root(leaves[middle:])).digest()


def leaves(size: int) -> list[bytes]:
    return [hashlib.sha256(b"\0" + bytes([nth])).digest() for nth in range(size)]


def test_every_leaf_of_every_small_tree_is_proven_and_nothing_else() -> None:
    for size in range(1, MOST):
        tree = leaves(size)
        top = root(tree)
        for index, leaf in enumerate(tree):
            path = merkle.inclusion_path(index, tree)
            assert verifier.is_included(leaf, index, size, path, top)
            assert not verifier.is_included(leaf, (index + 1) % size, size, path, top) or size == 1
            assert not verifier.is_included(flipped(leaf, 9), index, size, path, top)
            assert not verifier.is_included(leaf, index, size, [*path, leaf], top)
            assert not path or not verifier.is_included(leaf, index, size, path[1:], top)
    assert not verifier.is_included(leaves(1)[0], 1, 1, [], leaves(1)[0])


def test_every_small_tree_goes_on_from_every_smaller_and_from_no_other() -> None:
    for size in range(1, MOST):
        tree = leaves(size)
        for old in range(1, size + 1):
            path = merkle.consistency_path(old, tree)
            was, now = root(tree[:old]), root(tree)
            assert verifier.is_consistent(old, was, size, now, path)
            assert not verifier.is_consistent(old, flipped(was, 3), size, now, path)
            assert not verifier.is_consistent(old, was, size, flipped(now, 3), path)
            assert not verifier.is_consistent(old, was, size, now, [*path, now])
            assert not path or not verifier.is_consistent(old, was, size, now, path[:-1])


def entry(**facts: Any) -> dict[str, Any]:
    plain: dict[str, Any] = dict.fromkeys(verifier.FIELDS, "a") | {"subjects": []}
    return plain | facts


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (entry(verb="ab", sentence="c"), entry(verb="a", sentence="bc")),
        (entry(detail="{}", subjects=["x"]), entry(detail="{}x", subjects=[])),
        (entry(subjects=["ab"]), entry(subjects=["a", "b"])),
        (entry(actor=""), entry(actor="None")),
    ],
)
def test_no_two_entries_have_the_same_bytes(one: dict[str, Any], other: dict[str, Any]) -> None:
    assert verifier.entry_bytes(bytes(32), 1, one) != verifier.entry_bytes(bytes(32), 1, other)


def test_the_file_runs_alone(tmp_path: Path) -> None:
    """Copied elsewhere, in a Python that sees no other package."""
    alone = tmp_path / "verifier.py"
    alone.write_bytes(Path(verifier.__file__).read_bytes())
    (tmp_path / "history.jsonl").write_text(json.dumps({"history": 1}) + "\n")
    command = [sys.executable, "-I", "-S", str(alone), str(tmp_path / "history.jsonl")]
    command += ["--checkpoints", str(tmp_path), "--key", SIGNED[0][1]]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 (its own Python)
    assert (done.returncode, done.stdout) == (1, "There is no checkpoint to check against.\n")
