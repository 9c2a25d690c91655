"""Opening the bins of a kit: every role and size a format's pins come in."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.stock.families import PinSize, family_id, family_of, sizes_of
from keyctl.stock.models import PinBin
from keyctl.stock.services.counting import count_bins, mark_bins
from keyctl.stock.services.ledger import BATCH, MOST_PINS


@transaction.atomic
def open_kit(*, actor: User, site: Site, format: engine.CoreFormat, low_at: int = 0) -> list[PinBin]:
    """Bins for every pin of the format's kit, not counted yet. Refused where they are there already."""
    require_role(actor, site, Role.LOCKSMITH)
    family = family_of(format)
    if not 0 <= low_at <= MOST_PINS:
        raise Refused(_("Give a low mark from 0 to {most_pins}.").format(most_pins=MOST_PINS))
    if PinBin.objects.filter(site=site, family=family.id).exists():
        raise Refused(
            _("The bins of {title} are at {site} already. Count them, or set their marks.").format(
                title=family.title, site=site
            )
        )
    bins = list(bins_of(site, format, low_at=low_at).values())
    record(
        actor=actor,
        verb="stock.kit_opened",
        sentence=f"opened {len(bins)} bins for the pins of "
        f"{in_english(lambda: family_of(format).title)} at {site}",
        site_id=site.pk,
        subjects=bins,
        detail={"family": family.id, "bins": len(bins)},
    )
    return bins


@transaction.atomic
def stock_kit(
    *, actor: User, site: Site, format: engine.CoreFormat, each: int, low_at: int = 0
) -> list[PinBin]:
    """A full kit: every bin counted with ``each`` pins in it, opened where jobs have not opened it before."""
    bins = PinBin.objects.filter(site=site, family=family_id(format))
    if bins.exists():
        mark_bins(actor=actor, site=site, numbers={bin.pk: low_at for bin in bins})
    else:
        open_kit(actor=actor, site=site, format=format, low_at=low_at)
    return count_bins(actor=actor, site=site, numbers={bin.pk: each for bin in bins.all()})


def bins_of(site: Site, format: engine.CoreFormat, *, low_at: int = 0) -> dict[PinSize, PinBin]:
    """The bins of the format's kit at a site; the missing ones are opened, their counts unknown."""
    family, kit = family_id(format), sizes_of(format)
    found = _found(site, family)
    missing = [pin for pin in kit if pin not in found]
    if not missing:
        return found
    rows = [PinBin(site=site, family=family, role=role, size=size, low_at=low_at) for role, size in missing]
    # Two jobs may open the same kit at once: whoever comes second finds the first one's bins.
    PinBin.objects.bulk_create(rows, batch_size=BATCH, ignore_conflicts=True)
    return _found(site, family)


def _found(site: Site, family: str) -> dict[PinSize, PinBin]:
    bins = PinBin.objects.filter(site=site, family=family).select_related("site")
    return {(bin.role, bin.size): bin for bin in bins}
