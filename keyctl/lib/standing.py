"""What stands on a row: the rows of every app that name it, counted and told in words."""

from collections.abc import Collection, Iterator

from django.db.models import ForeignObjectRel, Model
from django.utils.translation import gettext as _


def standing_on(row: Model, besides: Collection[type[Model]] = ()) -> list[str]:
    """Such as ``["2 housings", "1 order line"]``; what ``besides`` names says nothing without the row."""
    return [
        _counted(relation.related_model, count)
        for relation in relations_to(type(row), besides)
        if (count := _rows(relation, row))
    ]


def relations_to(model: type[Model], besides: Collection[type[Model]] = ()) -> Iterator[ForeignObjectRel]:
    """Those without a name of their own too. A table that only joins two things is no thing itself."""
    for relation in model._meta.get_fields(include_hidden=True):
        if isinstance(relation, ForeignObjectRel):
            naming = relation.related_model
            if not naming._meta.auto_created and naming not in besides:
                yield relation


def joined(words: list[str]) -> str:
    """
    >>> joined(["1 floor"]), joined(["1 space", "2 doors", "a key"])
    ('1 floor', '1 space, 2 doors and a key')
    """
    if len(words) == 1:
        return words[0]
    return _("{several} and {last}").format(several=", ".join(words[:-1]), last=words[-1])


def _rows(relation: ForeignObjectRel, row: Model) -> int:
    return relation.related_model._base_manager.filter(**{relation.field.name: row}).count()


def _counted(model: type[Model], count: int) -> str:
    return f"{count} {model._meta.verbose_name if count == 1 else model._meta.verbose_name_plural}"
