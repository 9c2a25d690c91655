"""A core cut open, of invented figures: for the page of the design and for guides."""

from django import template
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.cores.section import Section, draw_section

register = template.Library()


@register.inclusion_tag("cores/_section_and_table.html")
def invented_section(
    format_id: str, operating: str, control: str = "", *, key: str, name: str, blank: str = "operating"
) -> dict[str, Section]:
    """``operating`` holds the keys it is pinned to, with blanks between; ``name`` is unique on the page."""
    pinned = engine.pin(format_id, operating.split(), control or None)
    title = _("An invented core with a key in it")
    bitting = engine.read_key(format_id, key)
    return {"section": draw_section(pinned, bitting, name=name, title=title, blank=blank)}
