"""What comes next in a rotation, in one sentence, and which button does it."""

from dataclasses import dataclass

from keyctl.jobs.models import Job
from keyctl.rotations.models import Rotation, RotationCore
from keyctl.rotations.selectors import Progress, WaveRow, lines_to_do
from keyctl.rotations.services.locking import State, counted


@dataclass(frozen=True)
class Step:
    """``act`` names what the page offers: a form, or where to go; empty where only waiting helps."""

    act: str
    title: str
    words: str


ENDED = {
    State.DONE: Step("", "Done", "Every door has its new keys; the proof stands below."),
    State.CANCELLED: Step(
        "",
        "Cancelled",
        "Doors that were done keep their new keys, the others their old ones. People go on carrying both "
        "until somebody starts another rotation over the rest, or takes the new cores out again.",
    ),
}


def next_step(rotation: Rotation, progress: Progress, job: Job | None) -> Step:
    if found := ENDED.get(State(rotation.state)):
        return found
    if job is not None:
        return Step("job", "The waves are being worked out", "The job tells how far it is.")
    if progress.to_do and (rotation.planned_at is None or progress.needs_plan) and not progress.begun:
        return _plan(rotation, progress)
    if rotation.state == State.PLANNED:
        words = "Look at the waves below. If they do, accept them: an order is opened for the area."
        return Step("accept", "Accept the plan", words)
    if rotation.state == State.PAUSED:
        words = "No wave begins while it is paused; doors of the wave under way may still be swapped."
        return Step("resume", "Paused", words)
    return _at_work(progress)


def _plan(rotation: Rotation, progress: Progress) -> Step:
    if rotation.planned_at is None:
        return Step("plan", "Deal the doors out into waves", "A job works it out; it takes some seconds.")
    if progress.short_of:
        short = "; ".join(f"{count} of {name}" for name, count in progress.short_of.items())
        return Step(
            "plan",
            "The waves no longer fit",
            f"Cores are missing for the largest wave to come: {short}. Have the waves worked out anew with "
            "those that are left, or give more cores first.",
        )
    if rotation.plan_words and not progress.waves:
        return Step(
            "plan", "There is no plan", "Change what the sentence below says, then work it out again."
        )
    left = counted(progress.without_wave, "door")
    return Step("plan", "Doors are in no wave", f"{left} to do. Have the waves worked out anew.")


def _at_work(progress: Progress) -> Step:
    if progress.begun:
        return _in_wave(progress.begun)
    if not progress.to_do:
        words = "Every door is done, but an old key still turns some core; see the proof below."
        return Step("finish", "Not proven yet", words)
    coming = progress.cores[RotationCore.State.COMING_BACK]
    wave = progress.next
    if wave is None:
        return Step("plan", "Doors are in no wave", "Have the waves worked out anew.")
    if coming and wave.doors > progress.cores[RotationCore.State.FREE]:
        return Step(
            "back",
            "Bring cores back",
            f"{counted(coming, 'core')} that came out {_are(coming)} not back at the bench. Wave "
            f"{wave.wave.ordinal} takes {wave.doors}.",
        )
    return Step(
        "begin",
        f"Begin wave {wave.wave.ordinal}",
        f"{counted(wave.doors, 'core')} are keyed to the new keys; an order to pin them and one to swap them "
        "are opened.",
    )


def _in_wave(row: WaveRow) -> Step:
    to_pin, to_swap = lines_to_do(row.wave)
    name = f"Wave {row.wave.ordinal}"
    if to_pin:
        return Step(
            "pin", f"{name}: pin the cores", f"{counted(to_pin, 'core')} to pin or to try at the bench."
        )
    if to_swap > row.unreached:
        return Step("swap", f"{name}: swap the cores", f"{counted(to_swap - row.unreached, 'door')} to do.")
    return Step(
        "later",
        f"{name}: doors are left",
        f"Not reached, or waiting in no order: {counted(row.left, 'door')}. Try once more, or move what is "
        "left to a later wave; its cores are at hand again then.",
    )


def _are(count: int) -> str:
    return "is" if count == 1 else "are"
