"""A core stands in a housing that takes it, at its own site. That it is in one place, constraints keep."""

from collections.abc import Iterator

from django.db.models import F, Q
from django.utils.translation import gettext_noop

from keyctl.cores.models import Core
from keyctl.lib.retold import kept_text

MISPLACED = kept_text(
    gettext_noop("Core {core} is in {housing}, which is of another site or takes other cores.")
)


def misplaced_cores() -> Iterator[str]:
    fits = Q(housing__construction=F("construction"), housing__door__floor__building__site=F("site"))
    wrong = Core.objects.filter(housing__isnull=False).exclude(fits)
    for core in wrong.select_related("housing__door__floor__building__site").order_by("pk").iterator():
        yield MISPLACED.format(core=core, housing=core.housing)
