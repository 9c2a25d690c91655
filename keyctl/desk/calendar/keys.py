"""Keys due back: one's own, or all that are out at a site."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.accounts.models import User
from keyctl.desk.calendar.entries import Entry, when_of
from keyctl.keys.models import Custody
from keyctl.places.models import Site


def own_keys(user: User) -> list[Entry]:
    own = _out().filter(Q(holder__user=user) | Q(holder__person__user=user))
    by_holder: defaultdict[str, list[Custody]] = defaultdict(list)
    for line in own:
        by_holder[reverse("keys:holder", args=[line.holder_id])].append(line)
    return [due for path, lines in by_holder.items() for due in _grouped(lines, path)]


def keys_of(_user: User, site: Site) -> list[Entry]:
    return _grouped(_out().filter(copy__site=site), reverse("keys:desk"))


def _out() -> QuerySet[Custody]:
    return Custody.objects.filter(ended_at__isnull=True, due_at__isnull=False)


def _grouped(lines: Iterable[Custody], path: str) -> list[Entry]:
    """One entry for all that is due at one moment: a ring of keys is one thing to bring back."""
    groups: defaultdict[date | datetime, list[Custody]] = defaultdict(list)
    for line in lines:
        if line.due_at:
            groups[when_of(line.due_at)].append(line)
    return [_due(when, group, path) for when, group in groups.items()]


def _due(when: date | datetime, lines: list[Custody], path: str) -> Entry:
    name = f"{path.strip('/').replace('/', '-')}-{when.isoformat()}"
    many = ngettext("{count} key due back", "{count} keys due back", len(lines)).format(count=len(lines))
    summary = _("Key due back") if len(lines) == 1 else many
    return Entry(name, when, summary, max(line.out_at for line in lines), path)
