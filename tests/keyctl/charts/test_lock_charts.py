"""A lock chart: drawn, looked through, solved, and made into a key system whose pins do what it asks."""

import io
import json
from time import monotonic
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook

from keyctl.audit.models import Event
from keyctl.charts import services
from keyctl.charts.models import LockChart
from keyctl.charts.sheets import EXAMPLE, example_csv
from keyctl.cores.models import Core
from keyctl.cores.selectors import planned_keys
from keyctl.cores.services.bulk import pin_cores
from keyctl.jobs.models import Job
from keyctl.jobs.running import Cancelled, Running
from keyctl.jobs.services import resume_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from tests.cast import Cast
from tests.jobs import finish

pytestmark = pytest.mark.django_db

# Two masters with four doors each, a top, and a key of the second master's that opens a door of the first.
KEYS = ["T", "M", *(f"M{n}" for n in range(1, 5)), "N", *(f"N{n}" for n in range(1, 5))]
LOCKS: list[dict[str, Any]] = [
    *({"id": f"1{n}", "opens": ["T", "M", f"M{n}"], "may": []} for n in range(1, 5)),
    *({"id": f"2{n}", "opens": ["T", "N", f"N{n}"], "may": []} for n in range(1, 5)),
]


def as_csv(locks: list[dict[str, Any]], bittings: dict[str, str] | None = None) -> bytes:
    rows = [["Lock", *KEYS]]
    if bittings:
        rows.append(["Bitting", *(bittings.get(key, "") for key in KEYS)])
    for lock in locks:
        marks = ["x" if key in lock["opens"] else "o" if key in lock["may"] else "" for key in KEYS]
        rows.append([str(lock["id"]), *marks])
    return "\n".join(",".join(row) for row in rows).encode()


def drawn(cast: Cast, content: bytes = b"", format_id: str = "small-a2-7") -> LockChart:
    return services.create_chart(
        actor=cast.locksmith,
        site=cast.north,
        name="East house",
        format_id=format_id,
        keyway="E1",
        content=content or as_csv(LOCKS),
    )


def solved(cast: Cast, chart: LockChart) -> LockChart:
    job = services.start_solving(actor=cast.locksmith, chart=chart, version=chart.version, minutes=1)
    assert finish(job).state == Job.State.DONE
    chart.refresh_from_db()
    return chart


def crossed() -> list[dict[str, Any]]:
    locks: list[dict[str, Any]] = json.loads(json.dumps(LOCKS))
    locks[0]["opens"].append("N3")
    return locks


def test_a_chart_is_read_from_a_table_and_its_bittings_are_sealed(cast: Cast) -> None:
    chart = drawn(cast, as_csv(LOCKS, {"M1": "3614925"}))
    assert chart.keys == KEYS
    assert chart.locks == LOCKS
    assert chart.kept_keys == ["M1"]
    assert b"3614925" not in bytes(chart.kept)
    assert "3614925" not in json.dumps([chart.keys, chart.locks, chart.findings])
    assert not Event.objects.filter(sentence__contains="3614925").exists()


def test_a_workbook_is_read_alike(cast: Cast) -> None:
    book, kept = Workbook(), io.BytesIO()
    for row in EXAMPLE:
        book.worksheets[0].append(row)
    book.save(kept)
    by_csv, by_book = drawn(cast, example_csv()), drawn(cast, kept.getvalue())
    assert (by_csv.keys, by_csv.locks) == (by_book.keys, by_book.locks)
    assert by_csv.locks[0] == {"id": "101", "opens": ["M", "A1"], "may": ["Cleaning"]}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"Lock,A\n1,z", "“z” is no mark"),
        (b"words", "No key stands in the first row"),
        (b"Lock,A,A\n1,x,", "Key A is named twice"),
        (b"Lock,A\n1,x\n1,x", "Lock 1 is named twice"),
        (b"Lock,A\nBitting,36\n1,x", "Key A: no key of this format"),
        (b"Lock,AAAAAAAAAAAAAAAAAAAAA\n1,x", "cannot name a key"),
    ],
)
def test_a_table_with_a_fault_is_refused_with_its_place(cast: Cast, content: bytes, said: str) -> None:
    with pytest.raises(Refused) as refused:
        drawn(cast, content)
    assert any(said in sentence for sentence in refused.value.sentences)
    assert not LockChart.objects.exists()


def test_a_solved_chart_becomes_a_system_whose_pins_do_what_it_asks(cast: Cast) -> None:
    chart = solved(cast, drawn(cast, as_csv(LOCKS, {"M1": "3614925"})))
    assert chart.state == LockChart.State.SOLVED
    job = services.start_making(
        actor=cast.locksmith, chart=chart, version=chart.version, code="EH", name="East house"
    )
    assert finish(job).state == Job.State.DONE
    chart.refresh_from_db()
    assert chart.state == LockChart.State.USED
    system = chart.system
    assert system is not None
    assert set(system.symbols.values_list("symbol", flat=True)) == {*KEYS, "CTR"}
    assert set(system.symbols.values_list("origin", flat=True)) <= {"charted", "brought-in"}
    assert bitting_of(system.symbols.get(symbol="M1")) == "3614925"
    cores = list(Core.objects.filter(system=system))
    pin_cores(actor=cast.locksmith, cores=cores)
    planned = planned_keys([core.pk for core in cores])
    asked = sorted(sorted(lock["opens"]) for lock in LOCKS)
    by_plan = [sorted(str(KeySymbol.objects.get(pk=key)) for key in planned[core.pk]) for core in cores]
    by_pins = [
        sorted(core.turns.filter(operates=True).values_list("symbol__symbol", flat=True)) for core in cores
    ]
    assert sorted(by_plan) == sorted(by_pins) == asked


def test_a_clash_is_told_by_names_and_its_remedy_works(cast: Cast) -> None:
    alike = {"M1": "3614925", "M2": "3614925"}
    chart = solved(cast, drawn(cast, as_csv(LOCKS, alike)))
    assert chart.state == LockChart.State.IMPOSSIBLE
    assert chart.findings["is_minimal"]
    assert "key 'M1' keeps its bitting" in chart.findings["clash"]
    assert "3614925" not in json.dumps(chart.findings)
    chart = services.take_over_table(
        actor=cast.locksmith, chart=chart, version=chart.version, content=as_csv(LOCKS)
    )
    assert chart.state == LockChart.State.DRAFT
    assert solved(cast, chart).state == LockChart.State.SOLVED


def test_what_cross_keying_lets_in_is_shown_and_accepted_before_solving(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    chart = drawn(cast, as_csv(crossed()))
    page = client.get(reverse("charts:detail", args=[chart.pk]))
    assert [(pair["key"], pair["lock"]) for pair in page.context["foreseen"].pairs] == [("N", "11")]
    client.post(reverse("charts:accept", args=[chart.pk]), {"version": chart.version})
    chart.refresh_from_db()
    assert chart.locks[0]["may"] == ["N"]
    assert "No pair is known" in client.get(reverse("charts:detail", args=[chart.pk])).content.decode()
    chart = solved(cast, chart)
    assert chart.state == LockChart.State.SOLVED
    text = client.get(reverse("charts:detail", args=[chart.pk])).content.decode()
    answer = json.loads(vault.unseal(chart, "answer"))
    assert not any(bitting in text for bitting in answer["bittings"].values())


def test_pairs_are_marked_on_a_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    chart = drawn(cast, b"Lock,A,B\n1,x,\n2,,")
    address = reverse("charts:mark", args=[chart.pk])
    client.post(
        address, {"version": chart.version, "m-0-0": "out", "m-0-1": "opens", "m-1-0": "may", "m-9-9": "may"}
    )
    chart.refresh_from_db()
    assert chart.locks == [{"id": "1", "opens": ["B"], "may": []}, {"id": "2", "opens": [], "may": ["A"]}]
    stale = client.post(address, {"version": 1, "m-0-0": "opens"})
    assert stale.status_code == 422
    assert "Somebody else changed this chart" in stale.content.decode()


def test_keys_and_locks_are_added_on_a_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    begun = client.post(
        reverse("charts:begin"),
        {"name": "New", "site": str(cast.north.pk), "format_id": "fixed-6", "keyway": "K"},
    )
    chart = LockChart.objects.get()
    assert begun.headers["Location"] == reverse("charts:detail", args=[chart.pk])
    client.post(
        reverse("charts:draw", args=[chart.pk]), {"version": 1, "keys": "A: 333333\nB", "locks": "101\n102"}
    )
    chart.refresh_from_db()
    assert (chart.keys, chart.kept_keys) == (["A", "B"], ["A"])
    assert "333333" not in client.get(reverse("charts:detail", args=[chart.pk])).content.decode()
    assert "no key opens it" in client.get(reverse("charts:detail", args=[chart.pk])).content.decode()


def test_a_table_is_uploaded_on_a_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    facts = {"name": "New", "site": str(cast.north.pk), "format_id": "fixed-6", "keyway": "K"}
    file = SimpleUploadedFile("chart.csv", client.get(reverse("charts:example")).content)
    client.post(reverse("charts:begin"), facts | {"file": file})
    assert LockChart.objects.get().keys == ["M", "A1", "A2", "B1", "Cleaning"]


def test_a_chart_changed_meanwhile_is_not_solved_over(cast: Cast) -> None:
    chart = drawn(cast)
    job = services.start_solving(actor=cast.locksmith, chart=chart, version=chart.version, minutes=1)
    services.set_rules(actor=cast.locksmith, chart=chart, version=chart.version, rules={"max_cuts": 3})
    assert finish(job).state == Job.State.FAILED
    with pytest.raises(Conflict):
        services.accept_pairs(actor=cast.locksmith, chart=chart, version=chart.version)


def test_a_stopped_search_goes_on_from_where_it_was(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    chart = drawn(cast)
    job = services.start_solving(actor=cast.locksmith, chart=chart, version=chart.version, minutes=1)

    def stopped(running: Running, done: int, total: int, words: str = "") -> None:
        Job.objects.filter(pk=running.job.pk).update(state=Job.State.STOPPING)
        raise Cancelled

    with monkeypatch.context() as patched:
        patched.setattr(Running, "step", stopped)
        job = finish(job)
    assert job.state == Job.State.STOPPED
    assert job.checkpoint is not None
    chart.refresh_from_db()
    assert chart.state == LockChart.State.DRAFT
    assert finish(resume_job(actor=cast.locksmith, job=job)).state == Job.State.DONE
    chart.refresh_from_db()
    assert chart.state == LockChart.State.SOLVED


def test_a_used_chart_is_not_changed_any_more(cast: Cast) -> None:
    chart = solved(cast, drawn(cast))
    finish(
        services.start_making(actor=cast.locksmith, chart=chart, version=chart.version, code="X", name="X")
    )
    chart.refresh_from_db()
    with pytest.raises(Refused):
        services.set_rules(actor=cast.locksmith, chart=chart, version=chart.version, rules={})


@pytest.mark.parametrize("act", ["solve", "make"])
def test_who_lost_the_role_meanwhile_neither_solves_nor_makes(cast: Cast, act: str) -> None:
    chart, facts = drawn(cast), {"actor": cast.locksmith}
    if act == "make":
        chart = solved(cast, chart)
        job = services.start_making(chart=chart, version=chart.version, code="X", name="X", **facts)
    else:
        job = services.start_solving(chart=chart, version=chart.version, minutes=1, **facts)
    before = chart.state
    Membership.objects.filter(user=cast.locksmith).update(role=Role.MANAGER)
    assert finish(job).state == Job.State.FAILED
    assert LockChart.objects.get().state == before


def test_a_chart_of_many_open_squares_is_looked_at_and_marked_in_seconds(cast: Cast, client: Client) -> None:
    keys, locks = [f"K{n}" for n in range(600)], [f"L{n}" for n in range(300)]
    rows = [["Lock", *keys], *([lock, *["x"] * len(keys)] for lock in locks)]
    chart = drawn(cast, "\n".join(",".join(row) for row in rows).encode())
    client.force_login(cast.locksmith)
    begun = monotonic()
    assert client.get(reverse("charts:detail", args=[chart.pk])).status_code == 200
    client.post(reverse("charts:mark", args=[chart.pk]), {"version": chart.version, "m-0-0": "may"})
    assert monotonic() - begun < 8
    chart.refresh_from_db()
    assert (chart.locks[0]["may"], len(chart.locks[0]["opens"])) == (["K0"], 599)
    assert chart.locks[1]["opens"] == keys


def test_a_chart_is_made_into_a_system_once(cast: Cast) -> None:
    chart = solved(cast, drawn(cast))
    jobs = [
        services.start_making(
            actor=cast.locksmith, chart=chart, version=chart.version, code=code, name="East house"
        )
        for code in ("ONE", "TWO")
    ]
    assert [finish(job).state for job in jobs] == [Job.State.DONE, Job.State.FAILED]
    assert Core.objects.count() == len(LOCKS)
    assert not KeySystem.objects.filter(code="TWO").exists()


@pytest.mark.parametrize(("person", "status"), [("officer", 403), ("auditor", 403), ("stranger", 404)])
def test_only_a_locksmith_of_the_site_works_on_a_chart(
    cast: Cast, client: Client, person: str, status: int
) -> None:
    chart = drawn(cast)
    client.force_login(cast.everybody[person])
    for name in ("accept", "solve", "make", "mark", "draw", "table", "rules"):
        assert client.post(reverse(f"charts:{name}", args=[chart.pk]), {"version": 1}).status_code == status
