"""The report of a loss: facts, doors, decisions, proof, timeline; no cuts; history knows of each print."""

import io

import pytest
from django.http import Http404
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from keyctl.audit.selectors import history_of
from keyctl.losses.models import LossCase
from keyctl.losses.services import add_note, close_case, prove_case, tell_facts
from keyctl.prints.reports.incident import print_incident
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.losses.estate import Estate
from tests.keyctl.prints.reading import faults_of


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return Estate.of(cast)


@pytest.fixture
def case(estate: Estate) -> LossCase:
    estate.door("AA1", number="S-117", is_egress=True)
    estate.core("AA1")
    holder = factories.make_holder(estate.cast.north, name="Ada Quill")
    case = estate.lose(estate.held("AA1", holder), note="Left on a tram")
    tell_facts(actor=estate.cast.desk, lost=case.lost_copies.get(), where="Tram 4", police_number="P-17")
    add_note(actor=estate.cast.officer, case=case, text="The porter, by telephone", kind="told")
    case.refresh_from_db()
    return case


def text_of(document: bytes) -> str:
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages)
    return " ".join(words.split())


def test_it_tells_the_case_from_report_to_proof(estate: Estate, case: LossCase) -> None:
    prove_case(actor=estate.cast.officer, case=case)
    case.refresh_from_db()
    close_case(
        actor=estate.cast.officer,
        case=case,
        version=case.version,
        outcome="Watched at night",
        without_proof=True,
    )
    case.refresh_from_db()
    told = text_of(print_incident(actor=estate.cast.officer, case=case))
    for words in (
        "Left on a tram",
        "Ada Quill",
        "Tram 4",
        "P-17",
        "S-117",
        "The porter, by telephone",
        "Not proven: 2 left",
        "Watched at night",
        "AA1",
        "way out",
        "without a key",
    ):
        assert words in told, words


def test_it_holds_no_cuts(estate: Estate, case: LossCase) -> None:
    told = print_incident(actor=estate.cast.officer, case=case)
    assert faults_of(told) == []
    words = text_of(told).replace(" ", "")
    for symbol in KeySymbol.objects.filter(system=estate.system):
        assert bitting_of(symbol) not in words


def test_history_knows_of_the_print(estate: Estate, case: LossCase) -> None:
    print_incident(actor=estate.cast.auditor, case=case)
    assert history_of(case)[0].verb == "loss.report_printed"


def test_a_stranger_gets_none(estate: Estate, case: LossCase) -> None:
    with pytest.raises(Http404):
        print_incident(actor=estate.cast.stranger, case=case)


def test_the_page_answers_with_a_file_that_no_cache_keeps(
    estate: Estate, case: LossCase, client: Client
) -> None:
    client.force_login(estate.cast.auditor)
    answer = client.post(reverse("prints:incident", args=[case.pk]))
    assert answer.headers["Content-Disposition"] == f'attachment; filename="loss-{case.number}.pdf"'
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.content.startswith(b"%PDF")
