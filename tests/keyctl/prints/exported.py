"""Lists of a system that leave as numbered exports: asked for, permitted by a second officer, made."""

import io

from pypdf import PdfReader

from keyctl.jobs.models import Job
from keyctl.jobs.selectors import failure_shown_to
from keyctl.jobs.services import open_file
from keyctl.places.roles import Role
from keyctl.prints.lists.exporting import ask_export, make_export
from keyctl.prints.models import Export
from keyctl.reveals.models import Permission
from keyctl.reveals.services import grant
from keyctl.systems.models import KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.signing import proven

Kind, Form = Export.Kind, Export.Form
REASON = "Deposit in the safe"


def lettered_system(cast: Cast) -> KeySystem:
    return factories.make_system(
        cast.north, actor=cast.administrator, levels=(((1, 2), 4), ((3, 4), 16)), keyway="QX", code="KS-X"
    )


def asked(cast: Cast, system: KeySystem, kind: Export.Kind, form: Export.Form, **facts: object) -> Export:
    facts = {"actor": cast.locksmith, "site": cast.north, "reason": REASON, **facts}
    return ask_export(system=system, kind=kind, form=form, **facts)  # type: ignore[arg-type]


def ask(cast: Cast, system: KeySystem, kind: Export.Kind, form: Export.Form, **facts: object) -> Job:
    export = asked(cast, system, kind, form, **facts)
    if export.job:
        return export.job
    allow(cast, export)
    return make_export(actor=export.actor, export=export, sign_in=proven(export.actor))


def allow(cast: Cast, export: Export) -> None:
    """A second officer permits it."""
    second = factories.make_user(site=cast.north, role=Role.OFFICER)
    permission = Permission.objects.get(subject_id=export.pk)
    grant(actor=second, permission=permission, sign_in=proven(second), minutes=30, decision="For the safe")


def made(job: Job) -> bytes:
    job = finish(job)
    assert job.state == Job.State.DONE, failure_shown_to(job.actor, job)
    return open_file(actor=job.actor, sign_in=proven(job.actor), file=job.files.get())


def vault_of(system: KeySystem) -> dict[str, str]:
    return {key.symbol: bitting_of(key) for key in system.symbols.all()}


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
