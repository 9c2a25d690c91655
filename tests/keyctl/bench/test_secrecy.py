"""What the bench must never tell: no cut on a page that shows nothing secret, no cut or pin in history."""

import pytest
from django.test import Client

from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from tests.cast import Cast
from tests.keyctl.bench.tray import in_inches, secrets_in, told_history, tray_of
from tests.signing import sign_in


def looked_at(core: Core) -> list[str]:
    assert core.system
    return [
        "/bench/",
        "/bench/pins/",
        f"/bench/pins/?core={core.pk}",
        "/bench/measure/",
        f"/bench/measure/?core={core.pk}",
        "/bench/key/",
        f"/bench/key/?system={core.system.pk}&format=",
        "/bench/try/",
        f"/bench/try/?core={core.pk}",
        "/bench/repin/",
        f"/bench/repin/{core.pk}/",
        f"/estate/cores/{core.pk}/",
    ]


def work_through(client: Client, core: Core) -> None:
    assert core.system
    tray = tray_of(core)
    client.post(f"/bench/pins/?core={core.pk}", tray)
    client.post(f"/bench/measure/?core={core.pk}", in_inches(pins_of(core)))
    client.post(f"/bench/try/?core={core.pk}", {"system": core.system.pk, "symbol": "AB2"})
    client.post(f"/bench/repin/{core.pk}/", {"version": core.version, "symbols": "AB2"})
    client.post(f"/bench/repin/{core.pk}/done/", {"version": core.version, "symbols": "AB2"})


def test_no_page_that_is_only_looked_at_holds_a_secret(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    work_through(client, core)
    for address in looked_at(core):
        page = client.get(address).content.decode()
        assert secrets_in(page, core) == []
        assert 'class="secret' not in page


def test_a_days_work_leaves_no_cut_in_history(client: Client, cast: Cast, core: Core) -> None:
    tray = tray_of(core)
    sign_in(client, cast.locksmith)
    work_through(client, core)
    core.refresh_from_db()
    assert [str(key) for key in core.keyed_to.all()] == ["AB2"]
    assert secrets_in(told_history(), core) == []
    assert not [name for name, typed in tray.items() if name != "units" and typed in told_history()]


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "administrator", "requester"])
def test_nobody_but_a_locksmith_comes_to_the_bench(client: Client, cast: Cast, core: Core, name: str) -> None:
    sign_in(client, getattr(cast, name))
    for address in looked_at(core)[:-1]:
        assert client.get(address).status_code == 403


def test_the_bench_shows_its_five_acts(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    page = client.get("/bench/").content.decode()
    for address in ("/bench/pins/", "/bench/key/", "/bench/try/", "/bench/repin/", "/bench/measure/"):
        assert f'href="{address}"' in page
