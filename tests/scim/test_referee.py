"""An independent checker of SCIM services, run against the product itself through WSGI."""

import pytest
from scim2_client.engines.wsgi import WSGISCIMClient
from scim2_tester import Status, check_server

from keyctl.wsgi import application
from tests.scim.provider import Provider


@pytest.mark.django_db
def test_the_checker_finds_no_fault(provider: Provider) -> None:
    client = WSGISCIMClient(
        application,
        base_url="http://127.0.0.1:8000/scim/v2",
        headers={"Authorization": f"Bearer {provider.bearer}"},
    )
    results = check_server(client)
    faults = [
        f"{result.title}: {result.reason}"
        for result in results
        if result.status in {Status.ERROR, Status.CRITICAL}
    ]
    assert faults == []
    passed = [result for result in results if result.status == Status.SUCCESS]
    assert len(passed) > 30
