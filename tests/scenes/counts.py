"""A rule, a count that runs with a witness, a closed one with its case, a cabinet that changes hands."""

from typing import Any

from keyctl.counts import services
from keyctl.counts.models import CabinetHandover, Count, CountCase
from keyctl.keys.services import change_custodian
from tests import factories
from tests.scenes.base import Base

OF_SITE = ("start", "rules", "adopt-set", "set-rule", "end-rule")
OF_COUNT = ("detail", "begin", "scan", "undo", "witness", "close", "cancel")
OF_CASE = ("case", "explain", "close-case", "reopen-case")
OF_HANDOVER = ("handover", "sign-handover", "excuse-giver")


def routes(base: Base) -> dict[str, Any]:
    cast, site = base.cast, base.cast.north
    services.adopt_set(actor=cast.officer, site=site, name="university")
    facts: dict[str, Any] = {"actor": cast.desk, "site": site, "scope": "cabinet"}
    closed = services.start_count(cabinet=base.cabinet, **facts)
    services.close_count(actor=cast.desk, count=closed)
    running = services.start_count(cabinet=factories.make_cabinet(site), witness=cast.auditor, **facts)
    change_custodian(actor=cast.administrator, cabinet=base.cabinet, to=cast.manager)
    asked = Count.objects.create(
        site=site, number=90, scope="holder", holder=base.holder, reason="rule", due_on="2031-01-01"
    )
    return {
        **{f"counts:{name}": site.pk for name in OF_SITE},
        **{f"counts:{name}": running.pk for name in OF_COUNT},
        **{f"counts:{name}": CountCase.objects.get(count=closed).pk for name in OF_CASE},
        **{f"counts:{name}": CabinetHandover.objects.get(cabinet=base.cabinet).pk for name in OF_HANDOVER},
        "counts:declare": asked.pk,
        "prints:evidence": site.pk,
    }
