"""The printer reads nothing but what it is handed.

The hostile references are the usual ones against a printer of HTML (from memory; CVE-2025-68616 is one of the
kind): files, hosts, images in drawings, sheets that load sheets, attachments.
"""

import builtins
import io
import socket
from pathlib import Path
from typing import Any, NoReturn

import pytest
from pypdf import PdfReader

from keyctl.prints import pdf
from keyctl.prints.errors import PrinterMissing

HOSTILE = [
    '<img src="file://{file}">',
    '<img src="{file}">',
    '<img src="http://127.0.0.1:9/x.png">',
    '<img src="https://example.invalid/x.png">',
    '<img src="ftp://127.0.0.1:9/x.png">',
    '<svg width="9" height="9"><image href="file://{file}" width="9" height="9"/></svg>',
    '<link rel="stylesheet" href="file://{file}">',
    '<link rel="attachment" href="file://{file}">',
    "<style>@import url('file://{file}'); p {{ background: url('http://127.0.0.1:9/x.png') }}</style>",
    "<style>@font-face {{ font-family: f; src: url('file://{file}') }} p {{ font-family: f }}</style>",
    '<object data="file://{file}"></object>',
]


def text_of(document: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Everything below a test's folder that the printer opens; a connection fails the test at once."""
    seen: list[str] = []
    plain_open = builtins.open

    def watching(file: Any, *args: Any, **kwargs: Any) -> Any:
        if str(file).startswith(str(tmp_path)):
            seen.append(str(file))
        return plain_open(file, *args, **kwargs)

    def no_network(*_args: Any, **_kwargs: Any) -> NoReturn:
        seen.append("network")
        raise OSError("no network here")

    monkeypatch.setattr(builtins, "open", watching)
    monkeypatch.setattr(socket, "create_connection", no_network)
    monkeypatch.setattr(socket.socket, "connect", no_network)
    return seen


@pytest.mark.parametrize("reference", HOSTILE)
def test_a_reference_to_anything_outside_is_not_followed(
    reference: str, opened: list[str], tmp_path: Path
) -> None:
    file = tmp_path / "secret.txt"
    file.write_text("p { color: red } top secret")
    document = pdf.render_pdf(f"<p>sheet</p>{reference.format(file=file)}")
    assert "secret" not in text_of(document)
    assert b"top secret" not in document
    assert opened == []


def test_the_watch_itself_notices_what_is_opened(opened: list[str], tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        open(tmp_path / "x")  # noqa: PTH123, SIM115
    with pytest.raises(OSError, match="no network"):
        socket.create_connection(("127.0.0.1", 9))
    assert len(opened) == 2


def test_the_fetcher_refuses_every_scheme_and_serves_its_own_assets() -> None:
    fetcher = pdf.own_assets({"asset:dot": ("image/svg+xml", b"<svg/>")})
    assert fetcher.fetch("asset:dot").read() == b"<svg/>"
    for address in ("file:///etc/hostname", "http://127.0.0.1/", "data:,x", "asset:other"):
        with pytest.raises(ValueError, match="Refused to fetch"):
            fetcher.fetch(address)


def test_an_asset_of_our_own_is_printed() -> None:
    dot = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>'
    with_dot = pdf.render_pdf('<img src="asset:dot">', {"asset:dot": ("image/svg+xml", dot)})
    assert len(with_dot) > len(pdf.render_pdf('<img src="asset:dot">'))


def test_without_pango_it_names_the_line_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    plain_import = builtins.__import__

    def without_pango(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return plain_import(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without_pango)
    with pytest.raises(PrinterMissing, match=r"apt-get install -y libpango-1.0-0 "):
        pdf.render_pdf("<p>sheet</p>")
