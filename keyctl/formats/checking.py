"""What stands beside the form: what is wrong or missing, the drawing, and the self-proof."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.forms import BoundField
from django.utils.translation import gettext as _

from keyctl.engine import CoreFormat
from keyctl.formats.drawing import FormatDrawing, draw_format
from keyctl.formats.forms import FormatForm
from keyctl.formats.proof import SelfProof, self_proof


@dataclass(frozen=True)
class Complaint:
    """A sentence about the form, with the field to go to where it is about one."""

    sentence: str
    label: str = ""
    target: str = ""


@dataclass(frozen=True)
class Check:
    missing: tuple[BoundField, ...]
    complaints: tuple[Complaint, ...]
    format: CoreFormat | None
    drawing: FormatDrawing | None
    proof: SelfProof | None

    @property
    def is_ready(self) -> bool:
        return not self.missing and not self.complaints


def check_of(form: FormatForm) -> Check:
    """Empty fields are told apart from wrong ones: a half-filled form is no fault."""
    missing = tuple(field for field in form if form.has_error(field.name, "required"))
    format = form.format
    return Check(
        missing=missing,
        complaints=tuple(_complaints(form, missing)),
        format=format,
        drawing=draw_format(format, name="checked", title=_("The format as it stands")) if format else None,
        proof=self_proof(format) if format else None,
    )


def _complaints(form: FormatForm, missing: tuple[BoundField, ...]) -> Iterator[Complaint]:
    for sentence in form.non_field_errors():
        yield Complaint(str(sentence))
    for field in form:
        if field not in missing:
            yield from (Complaint(str(error), str(field.label), field.auto_id) for error in field.errors)
