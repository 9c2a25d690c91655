"""The cells of a row: parts of the list's own template, each named as its column."""

from typing import Any

from django import template
from django.template.loader import get_template

from keyctl.listing.declaring import Column
from keyctl.listing.shown import Shown

register = template.Library()


@register.simple_tag(takes_context=True)
def cells_of(context: template.Context, shown: Shown, row: Any) -> list[tuple[Column, str]]:
    parts = _parts(context, shown)
    with context.push(**{shown.list.row: row}):
        cells = [(column, part.render(context)) for column, part in parts]
    # A cell of blanks alone is an empty one, which a phone leaves out.
    return [(column, "" if cell.isspace() else cell) for column, cell in cells]


def _parts(context: template.Context, shown: Shown) -> list[tuple[Column, Any]]:
    """Looked up once a page."""
    kept: Any = context.render_context
    if (found := kept.get(shown.list.name)) is None:
        found = [(column, _part(f"{shown.list.cells}#{column.name}")) for column in shown.columns]
        kept[shown.list.name] = found
    return list(found)


def _part(name: str) -> Any:
    return get_template(name).template  # type: ignore[attr-defined]
