"""The frame of the field app, its worker, its manifest: the same for all who read a language, and whole."""

import json
import re
import struct
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.field import assets
from tests.cast import Cast

STATIC = Path(assets.FOLDER)


def told_to_worker(client: Client) -> dict[str, Any]:
    """What stands in the worker's first line."""
    text = client.get("/field/sw.js").content.decode()
    found = re.match(r"self\.FIELD = (\{.*\});\n", text)
    assert found
    told: dict[str, Any] = json.loads(found[1])
    return told


def test_the_frame_is_the_same_for_everybody_and_names_nobody(client: Client, cast: Cast) -> None:
    cast.locksmith.display_name = "Ann Bell"
    cast.locksmith.save()
    frames = []
    for person in (cast.locksmith, cast.stranger):
        client.force_login(person)
        answer = client.get("/field/")
        assert answer.headers["X-Field-Version"] == assets.version()
        frames.append(answer.content)
    assert frames[0] == frames[1]
    words = frames[0].decode()
    assert "Ann Bell" not in words
    assert "csrfmiddlewaretoken" not in words


@pytest.mark.parametrize("name", ["desk", "requester", "auditor"])
def test_people_of_other_trades_are_told_what_it_is_for(client: Client, cast: Cast, name: str) -> None:
    client.force_login(cast.everybody[name])
    answer = client.get("/field/")
    assert "X-Field-Version" not in answer.headers
    assert "For locksmiths at the door" in answer.content.decode()


def test_only_the_frame_may_run_the_reader_of_codes(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    policies = {path: client.get(path).headers["Content-Security-Policy"] for path in ("/field/", "/orders/")}
    assert "'wasm-unsafe-eval'" in policies["/field/"]
    assert "'wasm-unsafe-eval'" not in policies["/orders/"]
    assert "unsafe-inline" not in policies["/field/"]


def test_the_worker_keeps_every_file_that_the_frame_and_its_modules_name(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    frame = client.get("/field/").content.decode()
    kept = set(told_to_worker(client)["kept"])
    own = r"/field/(?:manifest\.webmanifest|words\.js)"
    named = set(re.findall(rf'(?:href|src)="(/static/[^"]+|{own})"', frame))
    assert len(named) > 20
    assert named - kept == set()
    for file in [STATIC / name.removeprefix("/static/") for name in kept if name.startswith("/static/js/")]:
        for path in re.findall(r'(?:from |import\()"(\.[^"]+)"', file.read_text()):
            address = "/static/" + (file.parent / path).resolve().relative_to(STATIC).as_posix()
            assert address in kept


def test_the_worker_keeps_no_page_but_the_frame(client: Client, db: None) -> None:
    told = told_to_worker(client)
    assert told["shell"] == "/field/"
    pages = [name for name in (*told["kept"], *told["later"]) if not name.startswith("/static/")]
    assert pages == ["/field/words.js", "/field/page-words.json", "/field/manifest.webmanifest"]
    for name in (*told["kept"], *told["later"]):
        if name.startswith("/static/"):
            assert (STATIC / name.removeprefix("/static/")).is_file()


def test_another_byte_is_another_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    extra = tmp_path / "extra.js"
    extra.write_text("1")
    monkeypatch.setattr(assets, "kept_later", lambda: [extra])
    first = assets.version_in.__wrapped__("de")
    extra.write_text("2")
    assert assets.version_in.__wrapped__("de") != first


def test_the_manifest_names_icons_of_the_size_that_they_have(client: Client, db: None) -> None:
    answer = client.get(reverse("field:manifest"))
    assert answer.headers["Content-Type"] == "application/manifest+json"
    told = json.loads(answer.content)
    assert told["start_url"] == told["scope"] == "/field/"
    assert told["display"] == "standalone"
    for icon in told["icons"]:
        data = (STATIC / icon["src"].removeprefix("/static/")).read_bytes()
        if icon["type"] == "image/png":
            # Width and height stand in the first chunk of a PNG (ISO/IEC 15948, 11.2.2).
            assert "{}x{}".format(*struct.unpack(">II", data[16:24])) == icon["sizes"]
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in told["icons"]}
