"""A core is disputed exactly as long as an open case names it."""

from collections.abc import Iterator

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_noop

from keyctl.cores.models import Core
from keyctl.field.models import CaseCore
from keyctl.lib.retold import kept_text

NO_CASE = kept_text(gettext_noop("Core {core} is disputed, and no open case names it."))
NOT_DISPUTED = kept_text(gettext_noop("Core {core} stands in an open case, and is not disputed."))


def disputes_without_case() -> Iterator[str]:
    named = Exists(CaseCore.objects.filter(core=OuterRef("pk"), is_open=True))
    for core in Core.objects.filter(~named, disputed_at__isnull=False).order_by("pk").iterator():
        yield NO_CASE.format(core=core)
    for core in Core.objects.filter(named, disputed_at__isnull=True).order_by("pk").iterator():
        yield NOT_DISPUTED.format(core=core)
