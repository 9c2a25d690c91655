"""The pinning sheet: what the bench needs, and nothing that tells a finder which door it is."""

import io
import re
from typing import NoReturn

import pypdfium2
import pytest
import zxingcpp
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import Settings

from keyctl import engine
from keyctl.accounts.fresh import SignInAgain
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.jobs.models import Job
from keyctl.jobs.services import open_file
from keyctl.lib.errors import Refused
from keyctl.orders import services as orders
from keyctl.orders.models import WorkOrder
from keyctl.places.finding import printed_address
from keyctl.places.roles import Role
from keyctl.prints import frame, services
from keyctl.prints.codes import qr_svg
from keyctl.prints.errors import PrinterMissing
from keyctl.prints.sheets.stacks import kits_of, stacks_on_sheet
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from keyctl.vault.errors import Tampered
from tests import factories
from tests.jobs import finish
from tests.keyctl.orders.workshop import Workshop, complete
from tests.keyctl.prints.reading import cells_of, faults_of
from tests.signing import proven, sign_in

POINTS_TO_MM = 25.4 / 72


def pinned_order(shop: Workshop, *cores: Core, title: str = "Bench work") -> WorkOrder:
    order = shop.pin_order(*cores, title=title)
    for line in order.lines.all():
        orders.pin_line(actor=shop.smith, line=line)
    return order


def printed(shop: Workshop, order: WorkOrder) -> bytes:
    return services.print_pinning_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=order)


def text_of(document: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages)


def rows_of(text: str) -> list[list[int]]:
    """The rows of the stack tables, a list of figures each."""
    return [
        [int(figure) for figure in re.findall(r"\d+", line)]
        for line in text.splitlines()
        if re.fullmatch(r"[\d\s+–]+", line) and len(line.split()) >= 5
    ]


def test_it_lists_every_stack_of_every_pinned_core(shop: Workshop) -> None:
    core = shop.core(pinned=False)
    document = printed(shop, pinned_order(shop, core))
    assert faults_of(document) == []
    rows = rows_of(text_of(document))
    core.refresh_from_db()
    pinning = engine.restore(core.format_id, vault.unseal(core, "pinning"))
    expected = [
        [stack.position, stack.bottom, *stack.masters, stack.control, stack.top, stack.total]
        for stack in pinning.stacks
    ]
    assert len(expected) == 7
    assert rows == expected


def test_every_total_is_the_published_one(shop: Workshop) -> None:
    """A2: 23 in every position (Keynotes 2024-10 p. 55). Each row's pins add up to it, too."""
    rows = rows_of(text_of(printed(shop, pinned_order(shop))))
    assert len(rows) == 7
    assert {row[-1] for row in rows} == {23}
    assert {sum(row[1:-1]) for row in rows} == {23}


def test_the_pins_to_take_are_the_pins_of_the_stacks(shop: Workshop) -> None:
    order = pinned_order(shop, shop.core(pinned=False), shop.core(pinned=False, nth=1))
    text = text_of(printed(shop, order))
    rows = rows_of(text)
    taken = {
        line.split()[0]: [int(word) for word in line.split()[1:]]
        for line in text.splitlines()
        if re.fullmatch(r"(Bottom|Master|Control|Top)( \d+)+", line)
    }
    assert {role: figures[-1] for role, figures in taken.items()} == {
        "Bottom": len(rows),
        "Master": sum(len(row) - 5 for row in rows),
        "Control": len(rows),
        "Top": len(rows),
    }
    assert all(sum(figures[:-1]) == figures[-1] for figures in taken.values())


def test_each_pin_of_the_summary_stands_under_its_size() -> None:
    """Worked by hand for the keys 361492 and 529674 with the control key 743810 in an A2 core: control pin =
    control cut + 10 - deepest cut, top pin = 23 - 10 - control cut (the rule of the trade manuals)."""
    [kit] = kits_of([engine.pin("small-a2-6", ["361492", "529674"], "743810")])
    counts = {row.role: dict(zip(kit.sizes, row.counts, strict=True)) for row in kit.rows}
    assert {role: {size: n for size, n in sizes.items() if n} for role, sizes in counts.items()} == {
        "bottom": {1: 1, 2: 2, 3: 1, 4: 1, 7: 1},
        "master": {2: 4, 4: 1, 8: 1},
        "control": {2: 1, 4: 1, 6: 1, 8: 1, 12: 2},
        "top": {5: 1, 6: 1, 9: 1, 10: 1, 12: 1, 13: 1},
    }


def test_every_format_has_a_summary_of_its_own() -> None:
    six, seven = (
        engine.pin("small-a2-6", ["361492"], "743810"),
        engine.pin("small-a2-7", ["3614920"], "7438101"),
    )
    assert [sum(row.together for row in kit.rows) for kit in kits_of([six, seven])] == [18, 21]


def test_its_codes_are_read_back_from_the_picture(shop: Workshop) -> None:
    order = pinned_order(shop, shop.core(pinned=False), shop.core(pinned=False))
    page = pypdfium2.PdfDocument(printed(shop, order))
    pictures = [page[number].render(scale=150 / 72).to_pil() for number in range(len(page))]
    read = {code.text for picture in pictures for code in zxingcpp.read_barcodes(picture)}
    assert read == {printed_address(line.core.tag) for line in order.lines.all() if line.core}


def test_its_codes_are_at_least_12_mm_wide(shop: Workshop) -> None:
    """Without the quiet zone. 12 mm still decode at 100 dpi (measured with zxing-cpp on ideal pictures)."""
    scale = 300 / 72
    page = pypdfium2.PdfDocument(printed(shop, pinned_order(shop)))[0]
    [code] = zxingcpp.read_barcodes(page.render(scale=scale).to_pil())
    width = code.position.top_right.x - code.position.top_left.x
    assert width / scale * POINTS_TO_MM >= 12


def test_the_address_in_the_code_is_in_capitals_so_that_the_code_stays_small(
    shop: Workshop, settings: Settings
) -> None:
    settings.BASE_URL = "https://keys.example"
    core = shop.core(pinned=False)
    assert printed_address(core.tag) == f"HTTPS://KEYS.EXAMPLE/Q/{core.tag}"
    modules = 29 + 2 * 4
    assert f'viewBox="0 0 {modules} {modules}"' in qr_svg(printed_address(core.tag), "Code")


def test_no_door_no_symbol_and_no_bitting_stands_on_it(shop: Workshop) -> None:
    housing, core = shop.furnished()
    Door = type(housing.door)
    Door.objects.filter(pk=housing.door.pk).update(number="E-1.04", name="Strongroom")
    complete(shop.swap_line(housing), shop.smith, core_out_id=core.pk)
    text = text_of(printed(shop, pinned_order(shop, core)))
    symbols = core.keyed_to.all()
    secrets = {bitting_of(symbol) for symbol in symbols} | {str(symbol) for symbol in symbols}
    assert str(core) in text
    for word in secrets | {"E-1.04", "Strongroom", str(housing.door.building), str(shop.system)}:
        assert re.search(rf"\b{re.escape(word)}\b", text) is None, word


def test_it_names_the_cores_that_are_not_pinned_yet_without_stacks(shop: Workshop) -> None:
    order = shop.pin_order(shop.core(pinned=False), shop.core())
    orders.pin_line(actor=shop.smith, line=order.lines.get(ordinal=1))
    text = text_of(printed(shop, order))
    waiting = order.lines.get(ordinal=2).core
    assert len(rows_of(text)) == 7
    assert text.count(str(waiting)) == 1


def test_it_says_what_to_be_careful_about(shop: Workshop) -> None:
    text = " ".join(text_of(printed(shop, pinned_order(shop))).split())
    for words in (
        "with the control key before it leaves the bench",
        "fire-rated",
        "Destroy it",
        "local code",
    ):
        assert words in text


def test_the_title_cannot_bring_anything_in(shop: Workshop) -> None:
    order = pinned_order(shop, title='<img src="file:///etc/hostname"> & more')
    assert '<img src="file:///etc/hostname"> & more' in text_of(printed(shop, order))


def test_history_knows_of_the_order_and_of_every_core(shop: Workshop) -> None:
    order = pinned_order(shop)
    printed(shop, order)
    core = order.lines.get().core
    assert core is not None
    assert history_of(order)[0].verb == "order.sheet_printed"
    assert history_of(core)[0].sentence.endswith(f" for order {order.number}")


def test_history_holds_it_even_where_the_vault_does_not_open(shop: Workshop) -> None:
    order = pinned_order(shop)
    Core.objects.filter(order_lines__order=order).update(pinning=b"\x01" + bytes(60))
    with pytest.raises(Tampered):
        printed(shop, order)
    assert Event.objects.filter(verb__in=["order.sheet_printed", "core.pinning_shown"]).count() == 2


def test_no_figure_of_the_stacks_is_in_history(shop: Workshop) -> None:
    order = pinned_order(shop)
    printed(shop, order)
    for event in Event.objects.filter(verb="order.sheet_printed"):
        assert set(event.detail) == {"number", "print", "cores"}


def test_it_refuses_an_order_of_which_nothing_is_pinned(shop: Workshop) -> None:
    with pytest.raises(Refused, match="is pinned yet"):
        printed(shop, shop.pin_order())


def test_it_refuses_a_swap_order(shop: Workshop) -> None:
    with pytest.raises(Refused, match="there to swap cores"):
        printed(shop, shop.swap_order())


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_prints_it(shop: Workshop, role: str) -> None:
    order = pinned_order(shop)
    with pytest.raises(PermissionDenied):
        services.print_pinning_sheet(
            actor=shop.cast.everybody[role], sign_in=proven(shop.cast.everybody[role]), order=order
        )
    assert not Event.objects.filter(verb="core.pinning_shown").exists()


def test_a_locksmith_of_another_site_does_not_find_it(shop: Workshop) -> None:
    with pytest.raises(Http404):
        services.print_pinning_sheet(
            actor=shop.cast.stranger, sign_in=proven(shop.cast.stranger), order=pinned_order(shop)
        )


def test_the_page_answers_with_a_file_that_nobody_stores(shop: Workshop, client: Client) -> None:
    order = pinned_order(shop)
    sign_in(client, shop.smith)
    answer = client.post(reverse("prints:pinning-sheet", args=[order.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'attachment; filename="pinning-sheet-{order.number}.pdf"'
    assert answer["Cache-Control"] == "no-store"
    assert answer.content.startswith(b"%PDF-")


@pytest.mark.parametrize(("who", "status"), [("auditor", 403), ("stranger", 404)])
def test_the_page_is_closed_to_others(shop: Workshop, client: Client, who: str, status: int) -> None:
    order = pinned_order(shop)
    sign_in(client, shop.cast.everybody[who])
    assert client.post(reverse("prints:pinning-sheet", args=[order.pk])).status_code == status


def test_a_mere_look_prints_nothing(shop: Workshop, client: Client) -> None:
    order = pinned_order(shop)
    sign_in(client, shop.smith)
    assert client.get(reverse("prints:pinning-sheet", args=[order.pk])).status_code == 405
    assert not Event.objects.filter(verb="order.sheet_printed").exists()


def test_without_pango_the_page_names_the_line_that_installs_it(
    shop: Workshop, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> NoReturn:
        raise PrinterMissing

    order = pinned_order(shop)
    monkeypatch.setattr(services, "require_printer", missing)
    sign_in(client, shop.smith)
    answer = client.post(reverse("prints:pinning-sheet", args=[order.pk]))
    assert answer.status_code == 422
    assert "apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz" in answer.content.decode()
    assert not Event.objects.filter(verb="order.sheet_printed").exists()


def test_control_pins_are_written_as_the_shop_counts_them() -> None:
    """From the sleeve: it is 6 increments thick here, so a control pin of 7 is +1."""
    pinned = engine.pin("large-sleeve-2345", ["111111"], "122221")
    kit = next(kits_of([pinned]))
    assert [stack.control for stack in stacks_on_sheet(pinned)] == ["–", "+1", "+1", "+1", "+1", "–"]
    assert kit.control_zero == 6


def test_a_large_one_is_set_by_a_job_as_the_small_one_is(
    shop: Workshop, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same cells, opened by the gate at once; the file is for who asked and signed in anew."""
    order = pinned_order(shop, shop.core(pinned=False), shop.core(pinned=False, nth=1))
    at_once = printed(shop, order)
    monkeypatch.setattr(frame, "MOST_AREAS_AT_ONCE", 1)
    sign_in(client, shop.smith)
    answer = client.post(reverse("prints:pinning-sheet", args=[order.pk]))
    job = Job.objects.get()
    assert answer.headers["Location"] == reverse("jobs:detail", args=[job.pk])
    assert Event.objects.filter(verb="core.pinning_shown").count() == 4
    file = finish(job).files.get()
    assert file.name == f"pinning-sheet-{order.number}.pdf"
    with pytest.raises(SignInAgain):
        open_file(actor=shop.smith, file=file)
    content = open_file(actor=shop.smith, sign_in=proven(shop.smith), file=file)
    assert cells_of(content) == cells_of(at_once)
    assert faults_of(content) == []
    other = factories.make_user(site=shop.site, role=Role.LOCKSMITH)
    with pytest.raises(PermissionDenied):
        open_file(actor=other, sign_in=proven(other), file=file)
    assert not bytes(job.parameters).startswith(b"{")
