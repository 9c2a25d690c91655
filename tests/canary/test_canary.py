"""No secret lies anywhere but where it is meant to be shown: a whole life of the product is searched."""

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.db import connection

from tests.canary.meant import MEANT
from tests.canary.searching import Canaries, Hit, rows_of, search

pytestmark = pytest.mark.skipif(connection.vendor != "sqlite", reason="The files of a database are SQLite's")

ROOT = Path(__file__).parents[2]
# What lies on a disk may hold nothing that the vault holds, not even a text without a number.
AT_REST = ("data/", "backups/", "tmp/", "logs/", "checkpoints/", "history.jsonl")


@dataclass(frozen=True)
class Life:
    folder: Path
    canaries: Canaries

    def artefacts(self) -> Iterator[tuple[str, bytes]]:
        for file in sorted(self.folder.rglob("*")):
            if file.is_file():
                yield file.relative_to(self.folder).as_posix(), file.read_bytes()
        [database] = self.folder.glob("data/*.sqlite3")
        with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as opened:
            yield "rows", b"".join(rows_of(opened))


@pytest.fixture(scope="module")
def life(tmp_path_factory: pytest.TempPathFactory) -> Life:
    place = tmp_path_factory.mktemp("canary")
    folder, secrets, told = place / "left", place / "secrets", place / "canaries.json"
    (folder / "tmp").mkdir(parents=True)
    environment = os.environ | {
        "KEYCTL_DATA_DIR": str(folder / "data"),
        "KEYCTL_SECRETS_DIR": str(secrets),
        "KEYCTL_CHECKPOINT_DIR": str(folder / "checkpoints"),
        "TMPDIR": str(folder / "tmp"),
        "DJANGO_SETTINGS_MODULE": "tests.settings",
    }
    command = [sys.executable, "-m", "tests.canary.life", str(folder), str(told)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=False)  # noqa: S603
    (folder / "said.txt").write_bytes(done.stdout + done.stderr)
    assert done.returncode == -9, done.stderr.decode()[-3000:]
    canaries = Canaries()
    for name, text in json.loads(told.read_text()):
        canaries.add(name, text)
    return Life(folder, canaries)


@pytest.fixture(scope="module")
def hits(life: Life) -> list[Hit]:
    return [
        hit
        for place, data in life.artefacts()
        for hit in search(place, data, life.canaries, sealed=place.startswith(AT_REST) or place == "rows")
    ]


def is_meant(hit: Hit) -> bool:
    return hit.place.removeprefix("answers/").startswith(tuple(MEANT))


def test_no_secret_is_anywhere_but_where_it_is_meant(hits: list[Hit]) -> None:
    told = [str(hit) for hit in hits if not is_meant(hit)]
    assert told == [], f"{len(told)} hits"


def test_every_answer_of_the_reviewed_list_shows_one(hits: list[Hit]) -> None:
    """So the search would have seen it elsewhere; and the list holds nothing that is not needed."""
    for name in MEANT:
        assert any(hit.place.startswith(f"answers/{name}") for hit in hits), name


def test_the_life_left_behind_all_that_was_to_be_searched(life: Life) -> None:
    names = [file.relative_to(life.folder).as_posix() for file in life.folder.rglob("*") if file.is_file()]
    answers = [name.removeprefix("answers/").split("~") for name in names if name.startswith("answers/")]
    kinds = {kind for kind, *_ in answers}
    assert kinds >= {"GET", "POST", "SHOWN", "API", "SCIM", "SEARCH", "ERROR", "MAIL", "MACHINES"}
    assert {"logs/json.log", "logs/lines.log", "history.jsonl"} <= set(names)
    for ending in (".sqlite3", ".sqlite3-wal"):
        assert any(name.startswith("data/") and name.endswith(ending) for name in names)
    assert any(name.startswith("backups/") for name in names)
    papers = [name for name in names if (life.folder / name).read_bytes()[:4] == b"%PDF"]
    assert papers
    assert len(life.canaries.windows) > 200
    assert len(life.canaries.texts) > 20
    spoken = (life.folder / "logs/json.log").read_text()
    assert "RuntimeError" in spoken
    assert '"level": "debug"' in spoken


def test_a_leak_of_each_kind_would_have_been_found(life: Life) -> None:
    """One secret planted into a real artefact of each kind."""
    names = life.canaries.texts
    secret = next(text for text, name in names.items() if name.startswith("systems.KeySymbol"))
    wanted = ["answers/GET", "logs/json", "logs/lines", "data/", "backups/", "history"]
    found = {}
    for place, data in life.artefacts():
        kind = next((kind for kind in wanted if place.startswith(kind)), None)
        if kind and len(data) > 2000:
            wanted.remove(kind)
            data = data[:300_000]  # noqa: PLW2901 (a piece of it is as good)
            middle = len(data) // 2
            planted = data[:middle] + b" " + secret + b" " + data[middle:]
            found[kind] = len(search(place, planted, life.canaries)) > len(search(place, data, life.canaries))
    assert wanted == []
    assert all(found.values()), found


def test_the_product_itself_holds_none_of_them(life: Life) -> None:
    """So a hit is a leak and no chance: neither files that are served nor templates hold such a run."""
    files = [
        file
        for folder in ("static", "templates")
        for file in (ROOT / folder).rglob("*")
        if file.is_file() and "vendor" not in file.parts
    ]
    assert [str(file) for file in files if search(file.name, file.read_bytes(), life.canaries)] == []
