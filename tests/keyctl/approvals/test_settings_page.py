"""What a site says about requests, and who may say it."""

import pytest
from django.test import Client

from keyctl.approvals.models import RequestSettings
from keyctl.approvals.services import change_settings
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, post, statuses

FACTS = {"critical_doors": "nobody", "collect_days": 7, "collect_at": "House A", "names_deciders": "on"}


def test_only_administrators_change_it(estate: Estate) -> None:
    people = dict.fromkeys(estate.cast.everybody, 403) | {"administrator": 200, "stranger": 404}
    assert statuses(estate.cast, "settings", estate.cast.north.pk) == people


def test_the_page_writes_it_down(estate: Estate, client: Client) -> None:
    site = estate.cast.north
    facts = FACTS | {"cabinet": estate.cabinet.pk}
    assert post(client, estate.cast.administrator, "settings", site.pk, **facts).status_code == 302
    settings = RequestSettings.objects.get(site=site)
    assert (settings.critical_doors, settings.collect_days, settings.cabinet) == ("nobody", 7, estate.cabinet)
    assert history_of(settings)[0].verb == "request_settings.changed"
    post(client, estate.cast.administrator, "settings", site.pk, **FACTS | {"collect_days": 9})
    assert RequestSettings.objects.get().collect_days == 9
    assert "House A" in page(client, estate.cast.administrator, "settings", site.pk)


def test_what_it_refuses(estate: Estate) -> None:
    facts = {"actor": estate.cast.administrator, "site": estate.cast.north}
    with pytest.raises(Refused, match="between 1 and 90 days"):
        change_settings(**facts, collect_days=0)  # type: ignore[arg-type]
    foreign = factories.make_cabinet(estate.cast.south)
    with pytest.raises(Refused, match="is not a cabinet of North site"):
        change_settings(**facts, collect_days=5, cabinet=foreign)  # type: ignore[arg-type]
