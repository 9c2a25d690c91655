"""Holding a count still, and its number in its site."""

from django.db.models import Max
from django.utils.translation import gettext as _

from keyctl.counts.models import Count
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.places.models import Site

State = Count.State


def hold_site(site: Site) -> None:
    """Until the end of the transaction nobody else opens a count here: look for an open one after this."""
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)


def next_number(site: Site) -> int:
    """Taken under the site's lock, so that two counts opened at once have two numbers."""
    hold_site(site)
    return (Count.objects.filter(site=site).aggregate(last=Max("number"))["last"] or 0) + 1


def locked_count(count: Count, *states: str) -> Count:
    """The count as it is now, until the end of the transaction; one in another state is refused."""
    fresh = held(Count.objects.with_names(), count.pk)
    if states and fresh.state not in states:
        raise Conflict(
            _("{fresh} is {value} by now. Look at it again.").format(
                fresh=fresh, value=in_sentence(fresh.get_state_display())
            )
        )
    return fresh
