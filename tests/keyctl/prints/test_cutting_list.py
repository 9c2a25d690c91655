"""The cutting list: what the machine needs, and nothing that tells a finder where to try the keys."""

import io
import re
from typing import NoReturn

import pypdfium2
import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.orders import services as orders
from keyctl.orders.models import WorkOrder
from keyctl.prints import services
from keyctl.prints.errors import PrinterMissing
from keyctl.reveals.errors import Missing
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of
from keyctl.vault.errors import Tampered
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete
from tests.keyctl.prints.reading import faults_of
from tests.permits import permit
from tests.signing import proven, sign_in

POINTS_PER_INCH = 72


def cut_order(shop: Workshop, *names: str, title: str = "Spare keys") -> WorkOrder:
    symbols = [factories.symbol(shop.system, name) for name in names or ("AA1", "AB2")]
    return orders.open_cut_order(
        actor=shop.smith,
        site=shop.site,
        title=title,
        counts={symbol: nth + 1 for nth, symbol in enumerate(symbols)},
        cabinet=factories.make_cabinet(shop.site),
    )


def printed(shop: Workshop, order: WorkOrder) -> bytes:
    return services.compose_cutting_list(actor=shop.smith, sign_in=proven(shop.smith), order=order).pdf()


def text_of(document: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages)


def keys_of(order: WorkOrder) -> list[KeySymbol]:
    return [line.symbol for line in order.lines.all() if line.symbol]


def test_it_holds_the_cuts_and_the_number_of_every_line(shop: Workshop) -> None:
    order = cut_order(shop)
    text = text_of(printed(shop, order))
    for line, symbol in zip(order.lines.all(), keys_of(order), strict=True):
        noun = "copy" if line.count == 1 else "copies"
        assert re.search(rf"Line {line.ordinal}\s+{line.count} {noun}\s+{bitting_of(symbol)}", text)


def test_it_says_how_to_read_them(shop: Workshop) -> None:
    text = " ".join(text_of(printed(shop, cut_order(shop))).split())
    assert "Small-format core, A2 system, 7 positions" in text
    assert "Read the cuts from the tip" in text
    assert f"keyway {shop.system.keyway}" in text
    assert f"Blanks to take 3 of keyway {shop.system.keyway}" in text


def test_root_depths_follow_from_the_cuts(shop: Workshop) -> None:
    """A2: depth 0 leaves .318 of the blade (from memory), each depth .0125 less (Ledger 10705790)."""
    order = cut_order(shop, "AA1")
    [row] = re.findall(r"Root depth, in((?:\s+\d\.\d{4})+)", text_of(printed(shop, order)))
    expected = [0.318 - 0.0125 * int(cut) for cut in bitting_of(keys_of(order)[0])]
    assert [float(figure) for figure in row.split()] == pytest.approx(expected, abs=0.00005)


def test_the_picture_is_three_times_natural_size(shop: Workshop) -> None:
    """An inch of the picture's ruler is three inches of paper, so that calipers can check the print."""
    page = pypdfium2.PdfDocument(printed(shop, cut_order(shop, "AA1")))[0].get_textpage()
    rows: dict[int, list[tuple[float, str]]] = {}
    for place in range(page.count_chars()):
        left, bottom, right, _ = page.get_charbox(place, loose=True)
        rows.setdefault(round(bottom), []).append(((left + right) / 2, page.get_text_range(place, 1)))
    [ruler] = [row for row in rows.values() if "".join(sign for _, sign in row if sign.strip()) == "00.51"]
    places = [place for place, sign in ruler if sign.strip()]
    assert places[-1] - places[0] == pytest.approx(3 * POINTS_PER_INCH, abs=0.5)


def test_no_symbol_no_door_and_no_place_stands_on_it(shop: Workshop) -> None:
    housing, core = shop.furnished()
    complete(shop.swap_line(housing), shop.smith, core_out_id=core.pk)
    order = cut_order(shop, "AA1", "A", "CTR", title="Keys for the strongroom")
    for name in ("A", "CTR"):
        permit("key", factories.symbol(shop.system, name), to=shop.smith, by=shop.cast.officer)
    document = printed(shop, order)
    assert faults_of(document) == []
    text = text_of(document)
    places = {housing.door.number, str(housing.door), str(housing.door.building), str(shop.site)}
    words = {str(symbol) for symbol in keys_of(order)} | places | {str(shop.system), shop.system.code}
    words |= {"strongroom", *(str(line.cabinet) for line in order.lines.all())}
    for word in words - {"A"}:
        assert re.search(rf"\b{re.escape(word)}\b", text) is None, word
    assert re.search(r"\bkey A\b", text) is None


def test_a_master_and_a_control_key_on_it_each_take_a_second_person(shop: Workshop) -> None:
    order = cut_order(shop, "AA1", "A", "CTR")
    permit("key", factories.symbol(shop.system, "A"), to=shop.smith, by=shop.cast.officer)
    with pytest.raises(Missing, match="A second person is needed") as refusal:
        printed(shop, order)
    assert [way.label for way in refusal.value.ways] == [
        f"Ask to see the cuts of control key CTR ({shop.system.code})"
    ]
    assert not Event.objects.filter(verb__in=["order.cutting_list_printed", "key.cuts_shown"]).exists()


def test_it_says_what_to_stamp_and_what_to_be_careful_about(shop: Workshop) -> None:
    text = " ".join(text_of(printed(shop, cut_order(shop))).split())
    for words in (
        "Stamp nothing on a key but the serial",
        "Destroy it",
        "a master key or a control key",
        "Try each copy in its core",
        "licensed locksmith",
        "SECRET",
    ):
        assert words in text


def test_a_line_that_is_cut_is_no_longer_on_it(shop: Workshop) -> None:
    order = cut_order(shop)
    first, second = order.lines.all()
    orders.cut_line(actor=shop.smith, line=first)
    text = text_of(printed(shop, order))
    assert f"Line {first.ordinal} " not in text
    assert f"Line {second.ordinal} " in text
    assert bitting_of(keys_of(order)[0]) not in text


def test_it_refuses_an_order_with_nothing_left_to_cut(shop: Workshop) -> None:
    order = cut_order(shop, "AA1")
    orders.cut_line(actor=shop.smith, line=order.lines.get())
    with pytest.raises(Refused, match="waits to be cut"):
        printed(shop, order)


def test_it_refuses_another_kind_of_order(shop: Workshop) -> None:
    with pytest.raises(Refused, match="cuts no keys"):
        printed(shop, shop.pin_order())


def test_there_is_no_pinning_sheet_of_an_order_to_cut(shop: Workshop) -> None:
    with pytest.raises(Refused, match="there to cut keys"):
        services.print_pinning_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=cut_order(shop))


def test_history_knows_of_the_order_and_of_every_key(shop: Workshop) -> None:
    order = cut_order(shop)
    printed(shop, order)
    assert history_of(order)[0].sentence == f"printed the cutting list of order {order.number}: 2 keys"
    for symbol in keys_of(order):
        assert history_of(symbol)[0].sentence.endswith(f" for order {order.number}")


def test_history_holds_it_even_where_the_vault_does_not_open(shop: Workshop) -> None:
    order = cut_order(shop, "AA1")
    KeySymbol.objects.filter(order_lines__order=order).update(bitting=b"\x01" + bytes(60))
    with pytest.raises(Tampered):
        printed(shop, order)
    assert Event.objects.filter(verb__in=["order.cutting_list_printed", "key.cuts_shown"]).count() == 2


def test_no_cut_is_in_history(shop: Workshop) -> None:
    order = cut_order(shop)
    printed(shop, order)
    told = [f"{event.sentence} {event.detail}" for event in Event.objects.all()]
    for secret in map(bitting_of, keys_of(order)):
        assert not [words for words in told if secret in words]


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_prints_it(shop: Workshop, role: str) -> None:
    order = cut_order(shop)
    with pytest.raises(PermissionDenied):
        services.compose_cutting_list(
            actor=shop.cast.everybody[role], sign_in=proven(shop.cast.everybody[role]), order=order
        )
    assert not Event.objects.filter(verb="key.cuts_shown").exists()


def test_a_locksmith_of_another_site_does_not_find_it(shop: Workshop) -> None:
    with pytest.raises(Http404):
        services.compose_cutting_list(
            actor=shop.cast.stranger, sign_in=proven(shop.cast.stranger), order=cut_order(shop)
        )


def test_the_page_answers_with_a_file_that_nobody_stores(shop: Workshop, client: Client) -> None:
    order = cut_order(shop)
    sign_in(client, shop.smith)
    answer = client.post(reverse("prints:cutting-list", args=[order.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'attachment; filename="cutting-list-{order.number}.pdf"'
    assert answer["Cache-Control"] == "no-store"
    assert answer.content.startswith(b"%PDF-")


@pytest.mark.parametrize(("who", "status"), [("desk", 403), ("auditor", 403), ("stranger", 404)])
def test_the_page_is_closed_to_others(shop: Workshop, client: Client, who: str, status: int) -> None:
    sign_in(client, shop.cast.everybody[who])
    assert client.post(reverse("prints:cutting-list", args=[cut_order(shop).pk])).status_code == status


def test_a_mere_look_prints_nothing(shop: Workshop, client: Client) -> None:
    sign_in(client, shop.smith)
    assert client.get(reverse("prints:cutting-list", args=[cut_order(shop).pk])).status_code == 405
    assert not Event.objects.filter(verb="order.cutting_list_printed").exists()


def test_without_pango_nothing_is_recorded(shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing() -> NoReturn:
        raise PrinterMissing

    monkeypatch.setattr(services, "require_printer", missing)
    with pytest.raises(PrinterMissing):
        printed(shop, cut_order(shop))
    assert not Event.objects.filter(verb="order.cutting_list_printed").exists()


def test_a_format_that_lacks_figures_is_told_on_the_sheet(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keyctl.keys.drawing.missing_figures", lambda _: iter(["the diameter of the plug"]))
    order = cut_order(shop, "AA1")
    text = " ".join(text_of(printed(shop, order)).split())
    assert "does not say the diameter of the plug" in text
    assert bitting_of(keys_of(order)[0]) in text
