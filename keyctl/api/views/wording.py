"""Which facts the writes of a resource take, and the words for them in the published description."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_view, inline_serializer
from rest_framework import serializers
from rest_framework.serializers import Serializer

from keyctl.api.schema import ProblemSerializer, answers
from keyctl.api.views.base import View

Asked = type[Serializer[Any]]

# A second of work: the whole is one transaction, which others wait for.
MOST_ITEMS = 100
NEW_REFUSALS = (400, 404, 409, 413, 415, 422)
CHANGE_REFUSALS = (*NEW_REFUSALS, 412, 428)


def written(
    one: str, *, new: Asked | None = None, change: Asked | None = None, bulk_name: str = ""
) -> Callable[[View], View]:
    """Which facts come in, and the words for the writes in the published description."""

    def wrap(view: View) -> View:
        words: dict[str, Any] = {}
        whole = view.serializer_class
        if new is not None:
            view.new_class = new
            words["create"] = extend_schema(
                summary=f"Make {one}", request=new, responses=answers({201: whole}, *NEW_REFUSALS)
            )
        if change is not None:
            view.change_class = change
            words["partial_update"] = extend_schema(
                summary=f"Change {one}", request=change, responses=answers({200: whole}, *CHANGE_REFUSALS)
            )
        if hasattr(view, "destroy"):
            words["destroy"] = extend_schema(
                summary=f"Remove {one}", request=None, responses=answers({204: None}, *CHANGE_REFUSALS)
            )
        if hasattr(view, "bulk"):
            view.bulk = _bulk_words(one, new, whole)(_own(view.bulk))
        return view if not words else extend_schema_view(**words)(view)

    return wrap


def _own(inherited: Any) -> Any:
    """A method of the view's own, so that the words said of it are not said of every other view's."""

    @wraps(inherited)
    def method(self: Any, *args: Any, **kwargs: Any) -> Any:
        return inherited(self, *args, **kwargs)

    return method


def _bulk_words(one: str, new: Any, whole: Any) -> Any:
    name = whole.__name__.removesuffix("Serializer")
    result = inline_serializer(
        f"{name}BulkResult",
        {
            "index": serializers.IntegerField(help_text="The place of the item, from 0."),
            "status": serializers.IntegerField(help_text="As if it had come alone."),
            "location": serializers.URLField(required=False),
            "etag": serializers.CharField(required=False),
            "value": whole(required=False),
            "problem": ProblemSerializer(required=False),
        },
        many=True,
    )
    answer = inline_serializer(
        f"{name}BulkAnswer",
        {"done": serializers.IntegerField(), "refused": serializers.IntegerField(), "results": result},
    )
    items = inline_serializer(
        f"{name}Bulk",
        {"items": serializers.ListField(child=new(), min_length=1, max_length=MOST_ITEMS)},
    )
    return extend_schema(
        summary=f"Make {one}, many times",
        description="Each item is made or refused by itself; the answer tells of each, in the same order.",
        request=items,
        responses=answers({200: answer}, 400, 409, 413, 415, 422),
    )
