"""A core is disputed exactly as long as an open case names it."""

from collections.abc import Iterator

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from keyctl.cores.models import Core
from keyctl.field.models import CaseCore


def disputes_without_case() -> Iterator[str]:
    named = Exists(CaseCore.objects.filter(core=OuterRef("pk"), is_open=True))
    for core in Core.objects.filter(~named, disputed_at__isnull=False).order_by("pk").iterator():
        yield _("Core {core} is disputed, and no open case names it.").format(core=core)
    for core in Core.objects.filter(named, disputed_at__isnull=True).order_by("pk").iterator():
        yield _("Core {core} stands in an open case, and is not disputed.").format(core=core)
