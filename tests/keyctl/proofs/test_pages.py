"""The pages of proofs: who sees what, narrowing, paging, starting and accepting."""

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.jobs.models import Job
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.proofs import views
from keyctl.proofs.models import Acceptance, Finding, Proof
from keyctl.systems.services import bitting_of
from tests import factories
from tests.jobs import finish
from tests.keyctl.proofs.estate import Estate, put_pins

LIST = "/proofs/"
CROSSED, NONE = "Cross keying of", "No finding like this"


def page(client: Client, person: User, address: str, status: int = 200) -> str:
    client.force_login(person)
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def address(proof: Proof, query: str = "") -> str:
    return f"{LIST}{proof.pk}/{query}"


@pytest.fixture
def proof(estate: Estate) -> Proof:
    """Two cores with the wrong pins, and one that is cross-keyed."""
    put_pins(estate.core("AA1"), [estate.key("AB2"), estate.key("A")])
    estate.core("AA2", "AB1")
    return estate.prove()


def test_the_first_page_says_what_a_proof_is(estate: Estate, client: Client) -> None:
    assert "Nothing is proved yet" in page(client, estate.cast.auditor, LIST)


def test_a_proof_is_started_from_the_page(estate: Estate, client: Client) -> None:
    estate.core("AA1")
    client.force_login(estate.cast.locksmith)
    answer = client.post(f"{LIST}prove/", {"of": f"site-{estate.cast.north.pk}"})
    job = Job.objects.get()
    assert answer.headers["Location"] == f"/jobs/{job.pk}/"
    assert "How far it is" in page(client, estate.cast.officer, address(Proof.objects.get()))
    finish(job)
    assert "Pins and plan agree" in page(client, estate.cast.officer, address(Proof.objects.get()))


def test_what_the_form_offers_goes_by_role(estate: Estate, client: Client) -> None:
    shown = page(client, estate.cast.officer, LIST)
    assert "North site" in shown
    assert estate.system.code in shown
    assert "South site" not in shown
    assert "The whole estate" not in shown
    assert "Prove now" not in page(client, estate.cast.auditor, LIST)


def test_a_site_that_is_not_offered_is_not_proved(estate: Estate, client: Client) -> None:
    client.force_login(estate.cast.officer)
    answer = client.post(f"{LIST}prove/", {"of": f"site-{estate.cast.south.pk}"})
    assert answer.status_code == 422
    assert not Proof.objects.exists()


@pytest.mark.parametrize("name", ["desk", "requester"])
def test_who_does_not_read_proofs_is_told_so(estate: Estate, proof: Proof, client: Client, name: str) -> None:
    page(client, estate.cast.everybody[name], LIST, 403)
    page(client, estate.cast.everybody[name], address(proof), 403)


def test_a_stranger_finds_no_proof_of_the_site(estate: Estate, proof: Proof, client: Client) -> None:
    page(client, estate.cast.stranger, address(proof), 404)
    assert str(proof.pk) not in page(client, estate.cast.stranger, LIST)


def test_each_reads_the_findings_of_their_own_sites_only(estate: Estate, client: Client) -> None:
    cast = estate.cast
    south = factories.make_system(cast.south, actor=cast.stranger)
    foreign = factories.make_core(actor=cast.stranger, site=cast.south, system=south)
    put_pins(foreign, [factories.symbol(south, "AB2")])
    own = estate.core("AA1")
    put_pins(own, [estate.key("AB2")])
    Membership.objects.create(user=cast.officer, site=cast.south, role=Role.OFFICER)
    whole = estate.prove_whole()
    assert str(own) in page(client, cast.officer, address(whole))
    assert str(foreign) in page(client, cast.officer, address(whole))
    seen = page(client, cast.auditor, address(whole))
    assert str(own) in seen
    assert str(foreign) not in seen
    seen = page(client, cast.stranger, address(whole))
    assert str(own) not in seen
    assert str(foreign) in seen


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("?kind=does-not-turn", ("is planned to turn it and does not", CROSSED)),
        ("?cause=cross-keyed", (CROSSED, "is planned to turn it and does not</td>")),
        ("?view=foreign", (NONE, CROSSED)),
        ("?view=gone", (NONE, CROSSED)),
        ("?state=accepted", (NONE, CROSSED)),
        ("?state=open", (CROSSED, NONE)),
        ("?kind=nonsense&view=nonsense&site=nonsense", (CROSSED, NONE)),
    ],
)
def test_findings_are_narrowed(
    estate: Estate, proof: Proof, client: Client, query: str, words: tuple[str, str]
) -> None:
    shown = page(client, estate.cast.auditor, address(proof, query))
    assert words[0] in shown
    assert words[1] not in shown


def test_findings_come_page_by_page(
    estate: Estate, proof: Proof, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "FINDINGS_ON_A_PAGE", 2)
    total = proof.findings.count()
    seen = [
        page(client, estate.cast.auditor, address(proof, f"?page={number}")).count('<th scope="row"')
        for number in range(1, total // 2 + 2)
    ]
    assert total > 2
    assert sum(seen[: -(-total // 2)]) == total


def test_gone_findings_are_shown_on_the_next_proof(estate: Estate, client: Client) -> None:
    core = estate.core("AA1")
    put_pins(core, [estate.key("AA1"), estate.key("AA")])
    estate.prove()
    put_pins(core, [estate.key(name) for name in ("A", "AA", "AA1")])
    assert "Gone</span>" in page(client, estate.cast.auditor, address(estate.prove(), "?view=gone"))


def test_a_finding_leads_to_its_core_and_key(estate: Estate, proof: Proof, client: Client) -> None:
    shown = page(client, estate.cast.auditor, address(proof))
    finding = proof.findings.all()[0]
    assert f"/estate/cores/{finding.core_id}/" in shown
    assert f"/systems/keys/{finding.symbol_id}/" in shown


def test_an_officer_accepts_and_opens_again(estate: Estate, proof: Proof, client: Client) -> None:
    finding = proof.findings.all()[0]
    where = f"{LIST}findings/{finding.pk}/accept/"
    page(client, estate.cast.officer, where)
    facts = {"reason": "Known since the move", "until": f"{timezone.localdate():%Y-%m-%d}"}
    assert client.post(where, facts).status_code == 302
    assert "Known since the move" in page(client, estate.cast.auditor, address(proof, "?state=accepted"))
    held = Acceptance.objects.get()
    assert "Open it again" in page(client, estate.cast.officer, where)
    client.post(f"{LIST}accepted/{held.pk}/end/")
    assert "No finding like this" in page(client, estate.cast.auditor, address(proof, "?state=accepted"))


def test_the_page_says_what_is_missing(estate: Estate, proof: Proof, client: Client) -> None:
    client.force_login(estate.cast.officer)
    answer = client.post(f"{LIST}findings/{proof.findings.all()[0].pk}/accept/", {"reason": "", "until": ""})
    assert answer.status_code == 422
    assert "Not accepted yet" in answer.content.decode()


@pytest.mark.parametrize("name", ["locksmith", "auditor", "desk"])
def test_others_do_not_accept(estate: Estate, proof: Proof, client: Client, name: str) -> None:
    page(client, estate.cast.everybody[name], f"{LIST}findings/{proof.findings.all()[0].pk}/accept/", 403)


def test_no_page_holds_a_bitting(estate: Estate, proof: Proof, client: Client) -> None:
    finding = Finding.objects.all()[0]
    pages = [LIST, address(proof), f"{LIST}findings/{finding.pk}/accept/"]
    shown = "".join(page(client, estate.cast.officer, each) for each in pages)
    assert not any(bitting_of(symbol) in shown for symbol in estate.system.symbols.all())


def test_a_page_of_findings_asks_few_questions(
    estate: Estate, proof: Proof, client: Client, django_assert_max_num_queries: object
) -> None:
    client.force_login(estate.cast.officer)
    with django_assert_max_num_queries(24):  # type: ignore[operator]
        client.get(address(proof))
