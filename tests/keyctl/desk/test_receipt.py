"""The receipt as PDF: read back as text, as tags for screen readers, and as a picture."""

import io
import re
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.core import mail
from django.db import transaction
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader
from pytest_django import Settings

from keyctl.audit import signing, verifier
from keyctl.audit.chain import link_events
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event, Link
from keyctl.keys.models import DeskSettings, Handover
from keyctl.keys.services import Signature, issue_keys, publish_terms, return_keys
from keyctl.notices.services import send_waiting
from keyctl.prints.reports.receipts import make_receipt
from tests import factories
from tests.keyctl.desk.counter import STROKES, Counter
from tests.keyctl.keys.keyroom import KeyRoom
from tests.keyctl.prints.reading import faults_of

TERMS = "Bring the keys back yourself.\nTell the desk <at once> when one is lost."


def issued(room: KeyRoom, signature: Signature, keys: int = 2, **facts: Any) -> Handover:
    DeskSettings.objects.get_or_create(site=room.site)
    copies = [room.in_stock() for _ in range(keys)]
    return issue_keys(actor=room.desk, holder=room.holder, copies=copies, signature=signature, **facts)


def read(act: Handover) -> PdfReader:
    return PdfReader(io.BytesIO(make_receipt(act.pk)[2]))


def text_of(act: Handover) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(act).pages).split())


def test_it_says_what_custody_rules_ask_for(room: KeyRoom) -> None:
    terms = publish_terms(actor=room.cast.administrator, site=room.site, text=TERMS)
    act = issued(room, Signature("Ann Bell"), deposit=2050)
    text = text_of(act)
    serials = [str(line.copy) for line in act.lines_out.select_related("copy")]
    wanted = [*serials, room.holder.name, str(room.desk), f"Receipt {act.number}", room.site.name]
    wanted += ["Bring the keys back yourself.", "<at once>", "version 1", "20.50", "Ann Bell"]
    wanted += [f"{timezone.localtime(act.at):%-d %b %Y, %H:%M}"]
    assert [words for words in wanted if words not in text] == []
    assert terms.sha256 in text.replace(" ", "")


def test_it_names_no_key_no_door_and_no_cabinet(room: KeyRoom) -> None:
    room.symbol.symbol = "XQ7"
    room.symbol.save()
    text = text_of(issued(room, Signature("Ann Bell")))
    for words in ("XQ7", room.symbol.system.code, room.cabinet.name):
        assert words not in text


def dark(picture: Any) -> int:
    return sum(value < 100 for value in picture.convert("L").tobytes())


def test_the_drawn_signature_is_drawn(room: KeyRoom) -> None:
    """The same receipt with and without strokes: the ink differs, and lies in the signature's own box."""
    drawn = make_receipt(issued(room, Signature("Ann Bell", STROKES), 1).pk)[2]
    page = pypdfium2.PdfDocument(drawn)[0]
    picture = page.render(scale=2).to_pil()
    found = PdfReader(io.BytesIO(drawn)).pages[0]
    spots: list[tuple[float, float]] = []
    found.extract_text(
        visitor_text=lambda text, _cm, tm, _font, _size: (
            spots.append((tm[4], tm[5])) if "Signed on the screen" in text else None
        )
    )
    assert "Signed on the screen: Ann Bell" in found.extract_text()
    # The box of 62.5 by 25 mm above those words; lines of text are further up.
    height = picture.size[1]
    base = next((y for _, y in spots if y > 0), None)
    assert base is not None
    box = (112, height - 2 * (base + 95), 112 + 354, height - 2 * (base + 22))
    assert dark(picture.crop(tuple(int(side) for side in box))) > 1000


def test_it_is_tagged_and_says_its_language_and_title(room: KeyRoom) -> None:
    document = make_receipt(issued(room, Signature("Ann Bell", STROKES)).pk)[2]
    assert faults_of(document) == []
    reader = PdfReader(io.BytesIO(document))
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].lower().startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert str(reader.metadata.title).startswith("Receipt ")
    assert b"pdfuaid:part" in reader.xmp_metadata.stream.get_data()  # type: ignore[union-attr]
    kinds = set(re.findall(r"/S', '(/\w+)|'/S': '(/\w+)'", str(tags(root["/StructTreeRoot"]))))
    flat = {name for pair in kinds for name in pair if name}
    assert {"/Table", "/TH", "/TD", "/H1"} <= flat


def tags(node: Any) -> list[Any]:
    """Every node of the tree of tags, by its kind."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if not isinstance(node, dict):
        return []
    below = node.get("/K", [])
    below = below.get_object() if hasattr(below, "get_object") else below
    children = below if isinstance(below, list) else [below]
    return [{"/S": str(node.get("/S", ""))}, *(found for child in children for found in tags(child))]


def test_a_return_of_several_people_lists_whose_each_key_was(room: KeyRoom) -> None:
    other = factories.make_holder(room.site, name="Bob Cole")
    copies = [room.held(), room.give(room.in_stock(), other)]
    act = return_keys(
        actor=room.desk,
        copies=copies,
        cabinet=room.cabinet,
        brought_by="A porter",
        conditions={copies[0].pk: "Bent"},
    )
    text = text_of(act)
    assert "Not signed" in text
    for words in (room.holder.name, "Bob Cole", "brought by A porter", "Bent"):
        assert words in text


def test_it_carries_the_proof_of_its_place_in_the_signed_history(
    room: KeyRoom, settings: Settings, tmp_path: Path
) -> None:
    settings.HISTORY_KEY_FILE = tmp_path / "history.key"
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    act = issued(room, Signature("Ann Bell"))
    assert "of the history" not in text_of(act)  # its transaction has not ended
    ids = Event.objects.order_by("pk").values_list("pk", flat=True)
    link_events(transaction.get_connection(), list(ids))
    number = Link.objects.get(event__verb="key.handed_out").number
    assert f"manage.py prove_event {number}" in text_of(act)
    sign_history()
    printed = text_of(act).split("the verifier: ")[1].split(f" {room.site.name}")[0]
    key = signing.public_key().hex()
    arguments = ["--checkpoints", str(settings.CHECKPOINT_DIR), "--key", key, "--receipt"]
    assert verifier.main([*arguments, printed]) == 0
    assert verifier.main([*arguments, printed.replace(f"{number}:", f"{number + 1}:", 1)]) == 1
    assert verifier.main([*arguments, f"{number}:{'0' * 64}:1:"]) == 1


def test_printing_it_is_written_into_history(counter: Counter, room: KeyRoom) -> None:
    act = issued(room, Signature("Ann Bell"))
    answer = counter.client.post(f"/prints/receipts/{act.pk}/")
    assert answer.content.startswith(b"%PDF")
    assert answer.headers["Cache-Control"] == "no-store"
    assert Event.objects.filter(verb="handover.receipt_printed").count() == 1


@pytest.mark.parametrize(("who", "status"), [("manager", 403), ("requester", 200), ("stranger", 404)])
def test_who_took_the_keys_may_have_it_and_others_may_not(
    who: str, status: int, room: KeyRoom, client: Client
) -> None:
    room.holder.user = room.cast.requester
    room.holder.save()
    act = issued(room, Signature("Ann Bell"))
    client.force_login(room.cast.everybody[who])
    assert client.post(f"/prints/receipts/{act.pk}/").status_code == status
    assert client.get(f"/desk/acts/{act.pk}/").status_code == status


def test_the_mail_carries_it(counter: Counter, room: KeyRoom, settings: Settings) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    room.holder.email = "ann@example.org"
    room.holder.save()
    for text in (room.holder.name, room.in_stock()):
        counter.scan(text)
    counter.finish(signed_as="Ann Bell")
    send_waiting(timezone.now())
    [letter] = mail.outbox
    [(name, content, kind)] = letter.attachments
    act = Handover.objects.get()
    assert (name, kind) == (f"receipt-{act.number}.pdf", "application/pdf")
    assert bytes(content).startswith(b"%PDF")
