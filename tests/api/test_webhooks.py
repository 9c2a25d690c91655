"""The log of webhooks over REST, and the form of their messages as the description publishes it."""

from typing import Any

import pytest
from jsonschema import Draft202012Validator

from keyctl.webhooks.kinds import TEST
from keyctl.webhooks.models import Endpoint
from keyctl.webhooks.payloads import payload, payload_of
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.api.walk import description
from tests.cast import Cast


def test_the_log_is_read_without_address_secret_or_answer(api: Api, estate: Estate) -> None:
    endpoint = estate.webhook
    [row] = api.get("webhooks/").json()["results"]
    assert (row["id"], row["host"], row["told_of"]) == (str(endpoint.pk), "hooks.example.org", ["keys"])
    answer = api.get(f"webhooks/{endpoint.pk}/deliveries/")
    [delivery] = answer.json()["results"]
    assert delivery["message_id"] == endpoint.deliveries.get().message_id
    assert [(each["status"], each["milliseconds"]) for each in delivery["tries"]] == [(503, 41)]
    assert delivery["next_at"]
    for text in (answer.content.decode(), str(row)):
        assert "unsaid" not in text
    assert api.get(f"webhooks/{endpoint.pk}/deliveries/", state="failed").json()["results"] == []
    assert problem(api.get("webhooks/", state="x"), 400, "invalid")


def test_an_endpoint_that_hears_of_other_sites_too_is_not_found(
    cast: Cast, api: Api, foreign: Api, estate: Estate
) -> None:
    endpoint = estate.webhook
    problem(foreign.get(f"webhooks/{endpoint.pk}/deliveries/"), 404, "not-found")
    endpoint.sites.add(cast.south)
    for program in (api, foreign):
        assert program.get("webhooks/").json()["results"] == []
        problem(program.get(f"webhooks/{endpoint.pk}/"), 404, "not-found")
    assert Endpoint.objects.count() == 1


@pytest.mark.parametrize("name", ["event", TEST])
def test_messages_are_as_the_description_says(name: str, api: Api, estate: Estate) -> None:
    """JSON Schema 2020-12, which OpenAPI 3.1 uses as it stands."""
    import json

    sent = payload_of(estate.event)
    if name == TEST:
        sent = payload(TEST, estate.event.event.at, {"endpoint": str(estate.webhook.pk)})
    operation: dict[str, Any] = description()["webhooks"][name]["post"]
    check = Draft202012Validator(operation["requestBody"]["content"]["application/json"]["schema"])
    assert list(check.iter_errors(json.loads(sent))) == []
    assert list(check.iter_errors({"type": 1}))
    assert {each["name"] for each in operation["parameters"]} == {
        "webhook-id",
        "webhook-timestamp",
        "webhook-signature",
    }
