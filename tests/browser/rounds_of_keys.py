"""The pages of keys in hands: desk, register, requests, losses, counts, leavers, people, mail, labels."""

from collections.abc import Iterator

from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.counts.models import Count, CountCase
from keyctl.keys.models import Cabinet, Holder, KeyCopy, Person
from keyctl.leavers.models import LeaverCase
from keyctl.losses.models import LossCase
from keyctl.places.models import Site

Path = tuple[str, str]


def desk_paths() -> Iterator[Path]:
    copy = KeyCopy.objects.filter(state=KeyCopy.State.HELD).order_by("serial")[0]
    cabinet = Cabinet.objects.order_by("site__code", "name")[0]
    site = cabinet.site
    yield "desk-issue", f"/desk/sites/{site.pk}/issue/"
    yield "desk-return", f"/desk/sites/{site.pk}/return/"
    yield "desk-transfer", f"/desk/sites/{site.pk}/transfer/"
    yield "reminders", f"/desk/sites/{site.pk}/reminders/"
    yield "keys-moved", f"/keys/copies/{copy.pk}/move/"
    yield "cabinets", "/keys/cabinets/"
    yield "cabinet", f"/keys/cabinets/{cabinet.pk}/"
    yield "key-register", "/keys/register/"
    yield "deposits", "/keys/deposits/"
    yield "law", "/keys/law/"
    yield "requests-at-desk", "/requests/desk/"
    yield from counting_paths()
    yield from leaving_paths()
    yield "report-lost", "/losses/"


def counting_paths() -> Iterator[Path]:
    closed = Count.objects.filter(state=Count.State.CLOSED).order_by("-number")[0]
    yield "counts", "/counts/"
    yield "count-closed", f"/counts/{closed.pk}/"
    yield "count-start", f"/counts/sites/{closed.site_id}/start/"
    yield "count-case", f"/counts/cases/{CountCase.objects.order_by('pk')[0].pk}/"
    yield "count-rules", f"/counts/sites/{closed.site_id}/rules/"


def leaving_paths() -> Iterator[Path]:
    case = LeaverCase.objects.filter(state=LeaverCase.State.OPEN).order_by("opened_at")[0]
    yield "leavers", "/leavers/"
    yield "leaver", f"/leavers/cases/{case.pk}/"


def losses_paths() -> Iterator[Path]:
    case = LossCase.objects.unfinished().order_by("number")[0]
    yield "losses", "/losses/"
    yield "loss", f"/losses/{case.pk}/"
    yield "loss-doors", f"/losses/{case.pk}/doors/"
    yield "loss-holders", f"/losses/{case.pk}/holders/"
    yield "loss-plans", f"/losses/{case.pk}/plans/"
    yield "loss-limits", "/losses/limits/"
    yield "loss-rules", "/losses/rules/"
    yield "loss-rates", f"/losses/rates/{case.site_id}/"


def requests_paths() -> Iterator[Path]:
    asked = KeyRequest.objects.filter(state=KeyRequest.State.ASKED).order_by("asked_at")[0]
    yield "decisions", "/requests/decisions/"
    yield "decision", f"/requests/{asked.pk}/"
    yield "substitutes", "/requests/substitutes/"


def people_paths() -> Iterator[Path]:
    site = Site.objects.order_by("code")[0]
    person = Person.objects.order_by("pk")[0]
    yield "people-list", "/directory/"
    yield "person", f"/directory/people/{person.pk}/"
    yield "people-lists", "/directory/lists/"
    yield "bring-people", "/directory/lists/bring/"
    yield "approval-rules", "/requests/rules/"
    yield "request-settings", f"/requests/settings/{site.pk}/"
    yield "desk-rules", "/keys/rules/"
    yield "desk-rules-of-site", f"/keys/rules/{site.pk}/"
    yield "new-terms", f"/keys/rules/{site.pk}/terms/"
    yield "mail", "/notices/"
    yield "leaver-rules", f"/leavers/sites/{site.pk}/rules/"
    yield "label-sheets", f"/labels/sites/{site.pk}/"
    yield "measure-labels", f"/labels/sites/{site.pk}/new-sheet/"


def own_paths() -> Iterator[Path]:
    own = Holder.objects.filter(user__username="requester").order_by("site__code")[0]
    yield "own-keys", f"/keys/holders/{own.pk}/"
    yield "own-counts", "/counts/mine/"
    yield "calendar", "/desk/calendar/"


def interim_paths() -> Iterator[Path]:
    core = Core.objects.filter(housing__isnull=False).order_by("tag")[0]
    yield "interim", "/interim/"
    yield "interim-mark", f"/interim/cores/{core.pk}/"
