"""A counted bin holds what its movements add up to."""

from collections.abc import Iterator

from django.db.models import F, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.stock.models import PinBin

WRONG = kept_text(
    gettext_noop("Bin {found} of {family} at {site}: the bin says {count}, its movements say {moved}.")
)


def wrong_bins() -> Iterator[str]:
    """The first count makes up for what was moved before, so the sum holds over all movements."""
    counted = PinBin.objects.filter(count__isnull=False).annotate(moved=Coalesce(Sum("moves__change"), 0))
    wrong = counted.exclude(moved=F("count")).order_by("pk")
    for pk, moved in wrong.values_list("pk", "moved").iterator():
        found = PinBin.objects.select_related("site").get(pk=pk)
        yield WRONG.format(found=found, family=found.family, site=found.site, count=found.count, moved=moved)
