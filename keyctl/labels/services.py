"""Measuring a grid, and printing labels on it."""

from typing import Any
from uuid import UUID

from django.db import transaction
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.labels.access import PRINTERS
from keyctl.labels.models import LabelGrid
from keyctl.labels.selectors import CHOICES
from keyctl.labels.sheets import SMALLEST_CODE, SMALLEST_WITH_QUIET_ZONE, code_size, lay_out, overhang
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.prints.pdf import render_pdf, require_printer

MOST_LABELS = 1000


@transaction.atomic
def add_grid(*, actor: User, site: Site, **facts: Any) -> LabelGrid:
    require_role(actor, site, *PRINTERS)
    grid = LabelGrid(site=site, **facts)
    _refuse_grid(grid)
    grid.save(force_insert=True)
    _tell(actor, grid, "measured", "wrote down the label sheet")
    return grid


@transaction.atomic
def change_grid(*, actor: User, grid: LabelGrid, **facts: Any) -> LabelGrid:
    require_role(actor, grid.site, *PRINTERS)
    grid = LabelGrid.objects.select_for_update(of=("self",)).select_related("site").get(pk=grid.pk)
    for name, value in facts.items():
        setattr(grid, name, value)
    _refuse_grid(grid)
    grid.save(update_fields=list(facts))
    _tell(actor, grid, "changed", "changed the label sheet")
    return grid


def print_labels(
    *, actor: User, grid: LabelGrid, choice: str, part: UUID | None = None, start: int = 1
) -> bytes:
    """A PDF of labels; ``start`` is the first label of the first sheet that is still there."""
    require_role(actor, grid.site, *PRINTERS)
    if not 1 <= start <= grid.per_sheet:
        raise Refused(
            _("A sheet of “{grid}” has labels 1 to {per_sheet}. Start at one of them.").format(
                grid=grid, per_sheet=grid.per_sheet
            )
        )
    wanted = CHOICES[choice].things(grid.site, part)
    if not wanted:
        raise Refused(_("There is nothing to print a label for. Choose something else."))
    if len(wanted) > MOST_LABELS:
        raise Refused(
            _(
                "These are {wanted} labels; at most {most_labels} are printed at once. Print them in parts, "
                "by building or by order."
            ).format(wanted=len(wanted), most_labels=MOST_LABELS)
        )
    require_printer()
    pdf = render_pdf(render_to_string("prints/labels.html", {"sheets": lay_out(grid, wanted, start)}))
    _tell(actor, grid, "printed", f"printed {len(wanted)} label{'s' * (len(wanted) != 1)} on")
    return pdf


def _refuse_grid(grid: LabelGrid) -> None:
    found = overhang(grid)
    if grid.step_x < grid.width or grid.step_y < grid.height:
        found.append(_("The labels would lie upon one another: a step is at least as large as a label."))
    if code_size(grid) < SMALLEST_WITH_QUIET_ZONE:
        found.append(
            _("A code of {smallest_code} mm and its text have no room there. Choose larger labels.").format(
                smallest_code=SMALLEST_CODE
            )
        )
    others = LabelGrid.objects.filter(site=grid.site, name=grid.name).exclude(pk=grid.pk)
    if others.exists():
        found.append(
            _("There is a label sheet “{name}” at {site}. Choose another name.").format(
                name=grid.name, site=grid.site
            )
        )
    if found:
        raise Refused(_("The label sheet was not saved."), reasons=found)


@transaction.atomic
def _tell(actor: User, grid: LabelGrid, verb: str, words: str) -> None:
    record(
        actor=actor,
        verb=f"labels.{verb}",
        sentence=f"{words} “{grid}”",
        site_id=grid.site_id,
        subjects=[grid],
    )
