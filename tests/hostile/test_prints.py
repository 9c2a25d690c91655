"""What a person typed and what a person could smuggle in: a print fetches nothing and shows it as it is."""

import builtins
import io
import re
import socket
from collections.abc import Iterator
from pathlib import Path
from time import process_time
from typing import Any, NoReturn

import pytest
from pypdf import PdfReader

from keyctl.keys.models import DeskSettings
from keyctl.keys.services import Signature, issue_keys, publish_terms
from keyctl.keys.signing import checked_signature
from keyctl.labels.services import add_grid, print_labels
from keyctl.lib.errors import Refused
from keyctl.prints import pdf
from keyctl.prints.reports.receipts import make_receipt
from tests import factories
from tests.cast import Cast
from tests.hostile.payloads import FORMULAS, REFERENCES, TURNED
from tests.keyctl.keys.keyroom import KeyRoom, set_up
from tests.scenes.labels import GRID

ROOT = Path(__file__).parents[2]
MARKUP = "<img src=http://127.0.0.1:9/x><script>alert(1)</script>&amp;{{ 7|add:7 }}{% now 'Y' %}"
STYLE = "</style><style>* { background: url(http://127.0.0.1:9/x) }"


@pytest.fixture
def touched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Every look-up, connection and opening of a file of ours; each of them also fails."""
    seen: list[str] = []
    plain_open = builtins.open

    def no_network(*facts: Any, **_facts: Any) -> NoReturn:
        seen.append(f"network {facts[-1]}")
        raise OSError("no network here")

    def watching(file: Any, *args: Any, **kwargs: Any) -> Any:
        if str(file).startswith((str(tmp_path), "/etc/", "/proc/")):
            seen.append(str(file))
        return plain_open(file, *args, **kwargs)

    for name in ("create_connection", "getaddrinfo", "gethostbyname"):
        monkeypatch.setattr(socket, name, no_network)
    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, no_network)
    monkeypatch.setattr(builtins, "open", watching)
    return seen


@pytest.fixture
def addresses(tmp_path: Path) -> list[str]:
    file = tmp_path / "secret.svg"
    file.write_text('<svg xmlns="http://www.w3.org/2000/svg"><text>TOPSECRET</text></svg>')
    outside = [
        "http://127.0.0.1:9/x.png",
        "https://example.invalid/x",
        "ftp://127.0.0.1/x",
        "//127.0.0.1:9/x",
    ]
    return [file.as_uri(), str(file), "file:///etc/hostname", "data:text/css,*{color:red}", *outside]


def test_no_reference_of_any_kind_is_followed(touched: list[str], addresses: list[str]) -> None:
    """Unescaped, as if a template had forgotten to: all references to each kind of place."""
    for address in addresses:
        body = "\n".join(reference.format(address, address) for reference in REFERENCES)
        document = pdf.render_pdf(f"<p>sheet</p>{body}")
        assert b"TOPSECRET" not in document
        assert "TOPSECRET" not in text_of(document)
        assert not PdfReader(io.BytesIO(document)).attachments
    assert touched == []


@pytest.mark.parametrize("reference", REFERENCES)
def test_each_reference_by_itself_is_not_followed_either(
    touched: list[str], tmp_path: Path, reference: str
) -> None:
    """One that breaks the document must not hide the next."""
    file = tmp_path / "secret.svg"
    file.write_text("TOPSECRET")
    document = pdf.render_pdf(f"<p>sheet</p>{reference.format(file.as_uri(), file.as_uri())}")
    assert b"TOPSECRET" not in document
    assert touched == []


def text_of(document: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages)


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)


def test_a_receipt_shows_what_was_typed_and_obeys_none_of_it(room: KeyRoom, touched: list[str]) -> None:
    DeskSettings.objects.get_or_create(site=room.site)
    terms = "\n".join([MARKUP, STYLE, *(text for text in FORMULAS if text.isprintable()), TURNED])
    publish_terms(actor=room.cast.administrator, site=room.site, text=terms)
    room.holder.name = MARKUP[:100]
    room.holder.save()
    act = issue_keys(
        actor=room.desk, holder=room.holder, copies=[room.in_stock()], signature=Signature(MARKUP[:100])
    )
    began = process_time()
    words = text_of(make_receipt(act.pk)[2]).replace("\0", "")
    assert process_time() - began < 2
    assert "<script>alert(1)</script>" in words.replace("\n", "")
    assert "{{ 7|add:7 }}" in words.replace("\n", " ")
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", words)
    assert "=cmd|" in words
    assert touched == []


def test_labels_show_what_was_typed_and_obey_none_of_it(cast: Cast, touched: list[str]) -> None:
    grid = add_grid(actor=cast.locksmith, site=cast.north, **GRID)
    floor = factories.make_floor(cast.north)
    doors = [
        factories.make_door(floor=floor, number=f"<b>{number}", name=text[:60])
        for number, text in enumerate([MARKUP, STYLE, TURNED])
    ]
    made = print_labels(actor=cast.locksmith, grid=grid, choice="building", part=doors[0].building.pk)
    words = text_of(made)
    assert "<b>0" in words
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", words)
    assert touched == []


@pytest.mark.parametrize(
    "path",
    [
        'M10 10L20 20"/><image href="http://127.0.0.1:9/x"/>',
        "M10 10L20 20<script>alert(1)</script>",
        "M10 10 L&#60;",
        "url(http://127.0.0.1:9/x)",
        "M1e9 1L2 2",
        "M-1 -1L2 2",
        "M10 10A5 5 0 0 1 9 9",
        "M" + "9" * 40_000,
        "M10 10" + "L10 10" * 20_000,
        "M10 10L\u0661\u0660 10L1 1L2 2L3 3L4 4",
        "M10 10\x00L20 20",
    ],
)
def test_strokes_are_strokes_and_nothing_else(path: str) -> None:
    began = process_time()
    with pytest.raises(Refused):
        checked_signature(Signature("Ann", path))
    assert process_time() - began < 1


@pytest.mark.parametrize("html", ["x" * (pdf.LONGEST_PRINT + 1), "<p></p>" * (pdf.MOST_ELEMENTS + 1)])
def test_a_print_has_its_size(html: str) -> None:
    with pytest.raises(Refused, match="in parts"):
        pdf.render_pdf(html)


def templates() -> Iterator[Path]:
    yield from (ROOT / "templates").rglob("*.html")


def test_no_template_of_a_page_or_print_takes_typed_text_for_markup() -> None:
    marks = re.compile(r"\|\s*(?:safe|safeseq)\b|autoescape\s+off")
    assert [file.name for file in templates() if marks.search(file.read_text())] == []
    made_by_us = {"prints/codes.py"}  # a code's drawing, which holds no text
    marking = re.compile(r"\bmark_safe\(|\bSafeString\(|autoescape=False|autoescape off")
    found = {
        file.relative_to(ROOT / "keyctl").as_posix()
        for file in (ROOT / "keyctl").rglob("*.py")
        if marking.search(file.read_text())
    }
    # Mail is plain text: there is no markup to escape.
    assert found <= made_by_us | {"notices/wording.py"}
