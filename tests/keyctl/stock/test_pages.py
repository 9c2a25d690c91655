"""The pages of pin stock: for locksmiths, quick at the bench, with words for what is low."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl import engine
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from keyctl.stock import services
from keyctl.stock.models import PinBin
from tests.keyctl.stock.bench import Bench

SITE_PAGES = ["site", "reorder", "add-kit", "count", "receive", "marks"]


@pytest.fixture
def smith(bench: Bench, client: Client) -> Client:
    client.force_login(bench.smith)
    return client


def address(name: str, thing: Site | PinBin, query: str = "") -> str:
    return reverse(f"stock:{name}", args=[thing.pk]) + query


def text(client: Client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200, answer
    return answer.content.decode()


def sheet(*bins: PinBin, **numbers: int) -> dict[str, int]:
    """A count sheet as the page sends it: every bin's version, and what was typed."""
    typed = {f"number-{bin.pk}": number for bin, number in zip(bins, numbers.values(), strict=True)}
    return typed | {f"seen-{bin.pk}": bin.version for bin in bins}


@pytest.mark.parametrize("name", SITE_PAGES)
@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("locksmith", 200),
        ("desk", 403),
        ("officer", 403),
        ("auditor", 403),
        ("requester", 403),
        ("stranger", 404),
    ],
)
def test_only_the_sites_locksmiths_get_in(
    bench: Bench, client: Client, name: str, who: str, status: int
) -> None:
    bench.stock()
    client.force_login(bench.cast.everybody[who])
    assert client.get(address(name, bench.site)).status_code == status


@pytest.mark.parametrize(("who", "status"), [("locksmith", 200), ("manager", 403), ("stranger", 404)])
def test_only_the_sites_locksmiths_see_a_bin(bench: Bench, client: Client, who: str, status: int) -> None:
    bench.stock()
    client.force_login(bench.cast.everybody[who])
    assert client.get(address("bin", bench.bin())).status_code == status


@pytest.mark.parametrize("name", ["count-bin", "move-bin", "mark-bin"])
@pytest.mark.parametrize(("who", "status"), [("manager", 403), ("stranger", 404)])
def test_others_change_no_bin(bench: Bench, client: Client, name: str, who: str, status: int) -> None:
    bench.stock()
    client.force_login(bench.cast.everybody[who])
    assert client.post(address(name, bench.bin()), {"count": 1}).status_code == status
    assert bench.bin().count == 100


def test_a_locksmith_of_one_site_goes_straight_there(bench: Bench, smith: Client) -> None:
    assert smith.get(reverse("stock:list")).headers["Location"] == address("site", bench.site)


def test_a_locksmith_of_two_sites_chooses(bench: Bench, smith: Client) -> None:
    Membership.objects.create(user=bench.smith, site=bench.cast.south, role=Role.LOCKSMITH)
    page = text(smith, reverse("stock:list"))
    assert address("site", bench.site) in page
    assert address("site", bench.cast.south) in page


def test_nobody_else_sees_the_list_of_sites(bench: Bench, client: Client) -> None:
    client.force_login(bench.cast.administrator)
    assert client.get(reverse("stock:list")).status_code == 403


def test_an_empty_site_says_how_bins_get_here(bench: Bench, smith: Client) -> None:
    page = text(smith, address("site", bench.site))
    assert "No bins yet" in page
    assert address("add-kit", bench.site) in page


@pytest.mark.parametrize("name", ["count", "receive", "marks"])
def test_there_is_no_sheet_without_bins(bench: Bench, smith: Client, name: str) -> None:
    assert smith.get(address(name, bench.site)).status_code == 404
    bench.stock()
    assert smith.get(address(name, bench.site, "?kit=none")).status_code == 404
    assert smith.get(address(name, bench.site, "?role=none")).status_code == 200


def test_a_kit_is_opened_and_its_first_sheet_follows(bench: Bench, smith: Client) -> None:
    answer = smith.post(address("add-kit", bench.site), {"format": "small-a2-5", "low_at": 12}, follow=True)
    assert "64 bins are open" in answer.content.decode()
    assert "Count: bottom pins" in answer.content.decode()
    assert bench.bin().low_at == 12


def test_a_kit_that_is_open_is_not_offered_again(bench: Bench, smith: Client) -> None:
    bench.open_kit()
    page = text(smith, address("add-kit", bench.site))
    assert "A4 system" in page
    assert "A2 system" not in page


def test_the_site_shows_what_shares_a_kit_and_what_is_low_in_words(bench: Bench, smith: Client) -> None:
    bench.stock(each=50, low_at=20)
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=20)
    services.count_pins(actor=bench.smith, bin=bench.bin("top", 9), count=0)
    page = text(smith, address("site", bench.site))
    assert "A2 system, 5 positions; Small-format core, A2 system, 6 positions" in page
    assert '20<br><span class="tag tag-warn">Low</span>' in page
    assert '0<br><span class="tag tag-bad">None left</span>' in page
    assert "2 low" in page


def test_a_bin_in_doubt_asks_for_a_count(bench: Bench, smith: Client) -> None:
    bench.stock(each=2)
    bench.use({("master", 4): 5})
    assert "Count it" in text(smith, address("site", bench.site))
    assert "More pins were used than the records held" in text(smith, address("bin", bench.bin()))


def test_a_sheet_counts_what_was_typed_and_goes_on_to_the_next_role(bench: Bench, smith: Client) -> None:
    bench.open_kit()
    bins = [bench.bin("bottom", 0), bench.bin("bottom", 3)]
    url = address("count", bench.site, f"?kit={bins[0].family}&role=bottom")
    answer = smith.post(url, sheet(*bins, first=0, second=144))
    assert answer.headers["Location"].endswith("role=master")
    assert [bench.bin("bottom", size).count for size in (0, 3, 4)] == [0, 144, None]


def test_after_the_last_role_comes_the_site(bench: Bench, smith: Client) -> None:
    bench.open_kit()
    answer = smith.post(address("count", bench.site, "?role=top"), sheet(bench.bin("top", 4), first=5))
    assert answer.headers["Location"] == address("site", bench.site)


def test_a_stale_sheet_keeps_what_was_typed_and_says_what_moved(bench: Bench, smith: Client) -> None:
    bench.stock()
    typed = sheet(bench.bin(), first=88)
    bench.use({("master", 4): 3}, order="Order 9")
    answer = smith.post(address("count", bench.site, "?role=master"), typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Pins were moved while you counted" in page
    assert 'value="88"' in page
    bin = bench.bin()
    assert f'name="seen-{bin.pk}" value="{bin.version}"' in page
    assert bin.count == 97


def test_an_empty_sheet_is_refused(bench: Bench, smith: Client) -> None:
    bench.stock()
    answer = smith.post(address("receive", bench.site), {"x": ""})
    assert answer.status_code == 422
    assert "No number was typed" in answer.content.decode()


def test_a_word_instead_of_a_number_changes_nothing(bench: Bench, smith: Client) -> None:
    bench.stock()
    answer = smith.post(address("count", bench.site, "?role=master"), {f"number-{bench.bin().pk}": "many"})
    assert answer.status_code == 422
    assert bench.bin().count == 100


def test_pins_are_received_by_the_sheet(bench: Bench, smith: Client) -> None:
    bench.stock(each=10)
    url = address("receive", bench.site, "?role=master")
    assert smith.post(url, {f"number-{bench.bin().pk}": 144}).status_code == 302
    assert bench.bin().count == 154


def test_low_marks_are_set_by_the_sheet(bench: Bench, smith: Client) -> None:
    bench.stock(low_at=5)
    url = address("marks", bench.site, "?role=master")
    assert 'value="5"' in text(smith, url)
    assert smith.post(url, {f"number-{bench.bin().pk}": 30}).status_code == 302
    assert bench.bin().low_at == 30


def test_a_bin_is_counted_moved_and_marked_on_its_page(bench: Bench, smith: Client) -> None:
    bench.stock()
    bin = bench.bin()
    smith.post(address("count-bin", bin), {"count": 40, "version": bin.version})
    smith.post(address("move-bin", bin), {"reason": "scrapped", "number": 4, "note": "Bent"})
    smith.post(address("mark-bin", bin), {"low_at": 36})
    assert (bench.bin().count, bench.bin().low_at) == (36, 36)
    page = text(smith, address("bin", bin))
    for words in ("40 found", "Thrown away", "Bent", "threw away 4 pins: master pins of size 4", "Low"):
        assert words in page


def test_a_stale_count_of_one_bin_is_refused_on_its_page(bench: Bench, smith: Client) -> None:
    bench.stock()
    bin = bench.bin()
    bench.use({("master", 4): 3})
    answer = smith.post(address("count-bin", bin), {"count": 40, "version": bin.version})
    assert answer.status_code == 422
    assert "Pins were moved while you counted" in answer.content.decode()
    assert f'name="version" value="{bench.bin().version}"' in answer.content.decode()


def test_the_list_of_what_to_buy_names_each_pin(bench: Bench, smith: Client) -> None:
    bench.stock(each=50, low_at=20)
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=7)
    page = text(smith, address("reorder", bench.site))
    assert "Master pins, size 4" in page
    assert "<strong>14</strong>" in page
    assert page.count("<tbody>") == 1


def test_with_full_bins_there_is_nothing_to_buy(bench: Bench, smith: Client) -> None:
    bench.stock(each=50)
    assert "Nothing to buy" in text(smith, address("reorder", bench.site))


@pytest.mark.parametrize("name", ["site", "reorder", "count"])
def test_the_number_of_queries_does_not_grow_with_the_bins(bench: Bench, smith: Client, name: str) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            text(smith, address(name, bench.site))
        return len(seen)

    bench.stock(each=1, low_at=5)
    before = queries()
    for format_id in ("small-a3-7", "small-a4-7", "fixed-6"):
        bench.stock(each=1, low_at=5, format=engine.load_format(format_id))
    assert queries() == before


def test_the_movements_of_a_bin_have_pages(bench: Bench, smith: Client) -> None:
    bench.stock()
    for nth in range(26):
        bench.use({("master", 4): 1}, order=f"Order {nth}")
    assert "page 1 of 2" in text(smith, address("bin", bench.bin()))
    assert "Order 0" in text(smith, address("bin", bench.bin(), "?page=2"))
