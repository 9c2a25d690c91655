"""Starting a rotation in two pages: first the area, then keys, spare cores and crew."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Building, Door, Site
from keyctl.rotations import access, services
from keyctl.rotations.areas import Area, Chosen, area_of, housings_of, proposed_keys, spares_at
from keyctl.rotations.forms import StartForm, lines_of
from keyctl.systems.models import KeySystem

FOUND_AT_ONCE = 30


@require_GET
def area(request: Request) -> HttpResponse:
    """Buildings, floors, single doors, or an order to swap cores that is open."""
    site, text = _site(request), request.GET.get("q", "").strip()
    chosen = _chosen(request.GET)
    doors = Door.objects.filter(floor__building__site=site).with_places()
    facts = {
        "site": site,
        "sites": access.working_sites(request.user),
        "buildings": Building.objects.filter(site=site).prefetch_related("floors"),
        "orders": WorkOrder.objects.unfinished().filter(site=site, kind=WorkOrder.Kind.SWAP, swaps_of=None),
        "found": doors.filter(number__icontains=text)[:FOUND_AT_ONCE] if text else (),
        "doors": doors.filter(pk__in=chosen.doors),
        "chosen": chosen,
        "text": text,
    }
    return render(request, "rotations/new.html", facts)


@require_http_methods(["GET", "POST"])
def keys(request: Request) -> HttpResponse:
    """The area stands in the address, so that the page can be loaded again."""
    site, chosen = _site(request), _chosen(request.GET)
    found = area_of(housings_of(site, chosen))
    free = {name: len(cores) for name, cores in spares_at(site, found.doors_by_format).items()}
    system = _system(request, site, found)
    proposed = proposed_keys(found.old_keys, system) if system else {}
    sent = request.POST if request.method == "POST" else None
    form = StartForm(
        sent,
        site=site,
        old_keys=found.old_keys,
        free=free,
        initial={"title": _title(found), "keys": lines_of(found.old_keys, proposed)},
    )
    if sent is not None:
        started = form.attempt(
            services.start_rotation, actor=request.user, site=site, housings=found.housings
        )
        if started:
            job = services.start_plan(actor=request.user, rotation=started)
            return redirect("jobs:detail", job.pk)
    facts = {
        "site": site,
        "area": found,
        "form": form,
        "systems": _systems(site, found),
        "system": system,
        "kept": [
            (name, value) for name, values in request.GET.lists() for value in values if name != "system"
        ],
        "missing": len(found.old_keys) - len(proposed),
        "no_spares": [name for name, count in free.items() if not count],
    }
    return render(request, "rotations/new_keys.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _site(request: Request) -> Site:
    sites = access.working_sites(request.user)
    wanted = _uuids(request.GET, "site")
    site = sites.filter(pk=wanted[0]).first() if wanted else sites.first()
    if site is None:
        if wanted and sites.exists():
            raise Http404
        raise PermissionDenied
    return site


def _chosen(asked: QueryDict) -> Chosen:
    order = _uuids(asked, "order")
    return Chosen(
        _uuids(asked, "building"), _uuids(asked, "floor"), _uuids(asked, "door"), order[0] if order else None
    )


def _uuids(asked: QueryDict, name: str) -> tuple[UUID, ...]:
    try:
        return tuple(UUID(text) for text in asked.getlist(name) if text)
    except ValueError:
        raise Http404 from None


def _systems(site: Site, found: Area) -> list[KeySystem]:
    formats = {key.system.format_id for key in found.old_keys}
    return list(KeySystem.objects.filter(sites=site, format_id__in=formats))


def _system(request: Request, site: Site, found: Area) -> KeySystem | None:
    """Whose keys are proposed; the one that most of the doors are keyed to, where nobody said."""
    systems = _systems(site, found)
    wanted = _uuids(request.GET, "system")
    if wanted:
        return next((system for system in systems if system.pk == wanted[0]), None)
    return found.old_keys[0].system if found.old_keys else None


def _title(found: Area) -> str:
    names = list(dict.fromkeys(housing.door.building.name for housing in found.housings))
    words = ", ".join(names[:2]) + (f" and {len(names) - 2} more" if len(names) > 2 else "")
    return f"{words}: new keys"[:120] if names else ""
