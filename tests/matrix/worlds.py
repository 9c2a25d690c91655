"""Two sites with one of everything each. What belongs to the second is told apart wherever it turns up."""

import re
from dataclasses import dataclass, field
from typing import Any

from django.apps import apps
from django.db.models import Model, UUIDField

from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from tests.cast import Cast, gather
from tests.factories import make_user
from tests.scenes import build_routes
from tests.scenes.base import Base

# Names of the second site hold this word, which nothing else does.
CANARY = "zqxjv"
# They belong to no site: whoever may see one may see all.
OF_NO_SITE = {
    "audit.Event",
    "directory.DirectoryEntry",
    "directory.PeopleList",
    "formats.KeywayFit",
    "formats.ShopFormat",
    "keys.Person",
}
# A blank table is the same for all sites, and says who wrote each row.
SHARED = {"formats:keyways"}
NAMING = ("code", "name", "title", "label", "number", "display_name", "holder_name")
UUIDS = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}")
WORD = re.compile(r"[A-Za-z0-9]+")


@dataclass(frozen=True)
class Worlds:
    cast: Cast
    base: Base
    objects: dict[str, Any]
    foreign: Base
    # The model of every identifier of either site, and for each model those of the second.
    models: dict[str, str] = field(default_factory=dict)
    foreign_ids: dict[str, list[str]] = field(default_factory=dict)
    # One tag of the second site for each kind of thing that carries one.
    tag_of: dict[str, str] = field(default_factory=dict)
    tags: frozenset[str] = frozenset()

    @property
    def strangers(self) -> frozenset[str]:
        """The second site's identifiers, without hyphens."""
        return frozenset(pk.replace("-", "") for pks in self.foreign_ids.values() for pk in pks)

    def leaks(self, text: str, *, but: str = "") -> set[str]:
        """What of the second site stands in an answer to somebody of the first."""
        strangers = {pk for pks in self.foreign_ids.values() for pk in pks}
        found = set(UUIDS.findall(text)) & strangers
        found |= {word for word in WORD.findall(text) if word in self.tags or CANARY in word.lower()}
        return found - {but}

    def counterpart(self, pk: str) -> str | None:
        """A record of the second site of the same kind."""
        known = self.foreign_ids.get(self.models.get(pk, ""), [])
        return known[0] if known else None


def build_worlds() -> Worlds:
    cast = gather()
    base, objects = build_routes(cast)
    own = identifiers()
    own["places.Site"].discard(str(cast.south.pk))
    foreign, _ = build_routes(southern(cast))
    every = identifiers()
    strange = {model: sorted(pks - own.get(model, set())) for model, pks in every.items()}
    # Who has a part in the first site, too, is no stranger there. A locksmith would do, were they of it.
    ours = Membership.objects.filter(site=cast.north)
    members = {str(pk) for pk in ours.values_list("user", flat=True)}
    parts = {str(pk) for pk in ours.values_list("pk", flat=True)}
    strange["places.Membership"] = [pk for pk in strange["places.Membership"] if pk not in parts]
    first = str(foreign.cast.locksmith.pk)
    strange["accounts.User"] = [
        first,
        *(pk for pk in strange["accounts.User"] if pk not in {first, *members}),
    ]
    name_canaries(strange)
    tags = tags_of(strange)
    return Worlds(
        cast,
        base,
        objects,
        foreign,
        {pk: model for model, pks in every.items() for pk in pks},
        {model: pks for model, pks in strange.items() if model not in OF_NO_SITE},
        {model: tags[0] for model, tags in tags.items()},
        frozenset(tag for each in tags.values() for tag in each),
    )


def southern(cast: Cast) -> Cast:
    """The same cast at the other site."""
    named = (
        ("locksmith", Role.LOCKSMITH),
        ("desk", Role.KEY_DESK),
        ("manager", Role.MANAGER),
        ("officer", Role.OFFICER),
        ("auditor", Role.AUDITOR),
        ("requester", Role.REQUESTER),
        ("administrator", Role.ADMINISTRATOR),
    )
    people = {name: make_user(f"{CANARY}-{name}", site=cast.south, role=role) for name, role in named}
    Site.objects.filter(pk=cast.south.pk).update(name=f"{CANARY} site")
    cast.south.refresh_from_db()
    return Cast(north=cast.south, south=cast.north, stranger=cast.locksmith, **people)


def _models() -> list[type[Model]]:
    ours = [model for model in apps.get_models() if model.__module__.startswith("keyctl")]
    return [model for model in ours if isinstance(model._meta.pk, UUIDField)]


def identifiers() -> dict[str, set[str]]:
    return {
        model._meta.label: {str(pk) for pk in model._default_manager.values_list("pk", flat=True)}
        for model in _models()
    }


def name_canaries(strange: dict[str, list[str]]) -> None:
    """Every name and code of the second site holds the word, whatever its scene called it."""
    for model in _models():
        names = [each for each in NAMING if _is_text(model, each)]
        if not names or model._meta.label in OF_NO_SITE:
            continue
        for number, row in enumerate(model._default_manager.filter(pk__in=strange[model._meta.label])):
            for each in names:
                setattr(row, each, _canary(row, each, number))
            row.save(update_fields=names)


def _is_text(model: type[Model], name: str) -> bool:
    found = {each.name: each for each in model._meta.get_fields()}.get(name)
    return found is not None and found.get_internal_type() in {"CharField", "TextField"}


def _canary(row: Model, name: str, number: int) -> str:
    longest = row._meta.get_field(name).max_length or 60  # type: ignore[union-attr]  # text has one
    said = getattr(row, name)
    return f"{CANARY}{number}{said}"[:longest] if said else said


def tags_of(strange: dict[str, list[str]]) -> dict[str, list[str]]:
    found = {}
    for model in _models():
        if _is_text(model, "tag"):
            rows = model._default_manager.filter(pk__in=strange[model._meta.label])
            found[model._meta.label] = sorted(rows.values_list("tag", flat=True))
    return {label: tags for label, tags in found.items() if tags}
