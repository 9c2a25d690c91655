"""What comes next in a rotation, in one sentence, and which button does it."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.jobs.models import Job
from keyctl.lib.language import Text
from keyctl.lib.numbers import as_number
from keyctl.rotations.models import Rotation, RotationCore
from keyctl.rotations.selectors import Progress, WaveRow, lines_to_do
from keyctl.rotations.services.locking import State, cores_counted, doors_counted


@dataclass(frozen=True)
class Step:
    """``act`` names what the page offers: a form, or where to go; empty where only waiting helps."""

    act: str
    title: Text
    words: Text


ENDED = {
    State.DONE: Step(
        "", gettext_lazy("Done"), gettext_lazy("Every door has its new keys; the proof stands below.")
    ),
    State.CANCELLED: Step(
        "",
        gettext_lazy("Cancelled"),
        gettext_lazy(
            "Doors that were done keep their new keys, the others their old ones. People go on carrying "
            "both until somebody starts another rotation over the rest, or takes the new cores out again."
        ),
    ),
}


def next_step(rotation: Rotation, progress: Progress, job: Job | None) -> Step:
    if found := ENDED.get(State(rotation.state)):
        return found
    if job is not None:
        return Step("job", _("The waves are being worked out"), _("The job tells how far it is."))
    if progress.to_do and (rotation.planned_at is None or progress.needs_plan) and not progress.begun:
        return _plan(rotation, progress)
    if rotation.state == State.PLANNED:
        words = _("Look at the waves below. If they do, accept them: an order is opened for the area.")
        return Step("accept", _("Accept the plan"), words)
    if rotation.state == State.PAUSED:
        words = _("No wave begins while it is paused; doors of the wave under way may still be swapped.")
        return Step("resume", _("Paused"), words)
    return _at_work(progress)


def _plan(rotation: Rotation, progress: Progress) -> Step:
    if rotation.planned_at is None:
        return Step(
            "plan", _("Deal the doors out into waves"), _("A job works it out; it takes some seconds.")
        )
    if progress.short_of:
        short = "; ".join(
            _("{count} of {name}").format(count=count, name=name) for name, count in progress.short_of.items()
        )
        return Step(
            "plan",
            _("The waves no longer fit"),
            _(
                "Cores are missing for the largest wave to come: {short}. Have the waves worked out anew "
                "with those that are left, or give more cores first."
            ).format(short=short),
        )
    if rotation.plan_words and not progress.waves:
        return Step(
            "plan", _("There is no plan"), _("Change what the sentence below says, then work it out again.")
        )
    left = doors_counted(progress.without_wave)
    return Step(
        "plan",
        _("Doors are in no wave"),
        _("{left} to do. Have the waves worked out anew.").format(left=left),
    )


def _at_work(progress: Progress) -> Step:
    if progress.begun:
        return _in_wave(progress.begun)
    if not progress.to_do:
        words = _("Every door is done, but an old key still turns some core; see the proof below.")
        return Step("finish", _("Not proven yet"), words)
    coming = progress.cores[RotationCore.State.COMING_BACK]
    wave = progress.next
    if wave is None:
        return Step("plan", _("Doors are in no wave"), _("Have the waves worked out anew."))
    if coming and wave.doors > progress.cores[RotationCore.State.FREE]:
        return Step(
            "back",
            _("Bring cores back"),
            ngettext(
                "{count} core that came out is not back at the bench. Wave {ordinal} takes {doors}.",
                "{count} cores that came out are not back at the bench. Wave {ordinal} takes {doors}.",
                coming,
            ).format(count=as_number(coming), ordinal=wave.wave.ordinal, doors=wave.doors),
        )
    return Step(
        "begin",
        _("Begin wave {ordinal}").format(ordinal=wave.wave.ordinal),
        _(
            "{counted} are keyed to the new keys; an order to pin them and one to swap them are opened."
        ).format(counted=cores_counted(wave.doors)),
    )


def _in_wave(row: WaveRow) -> Step:
    to_pin, to_swap = lines_to_do(row.wave)
    name = _("Wave {ordinal}").format(ordinal=row.wave.ordinal)
    if to_pin:
        return Step(
            "pin",
            _("{name}: pin the cores").format(name=name),
            _("{counted} to pin or to try at the bench.").format(counted=cores_counted(to_pin)),
        )
    if to_swap > row.unreached:
        return Step(
            "swap",
            _("{name}: swap the cores").format(name=name),
            _("{counted} to do.").format(counted=doors_counted(to_swap - row.unreached)),
        )
    return Step(
        "later",
        _("{name}: doors are left").format(name=name),
        _(
            "Not reached, or waiting in no order: {counted}. Try once more, or move what is left to a "
            "later wave; its cores are at hand again then."
        ).format(counted=doors_counted(row.left)),
    )
