"""Archives of 100,000 doors against 10,000, out and in again, and of photos that would not fit into memory.

Each is a process of its own with new databases; its peak says whether rows go through, or are held.
"""

import multiprocessing
import os
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.report import Report, peak_memory_mib, sized

FEW, MANY = sized(10_000, 200), sized(100_000, 2_000)
MOST_TIMES = 12.0
PHOTOS, PHOTO_BYTES = sized(400, 10), 1_400_000
MOST_MEMORY = 512


class Spent(NamedTuple):
    """Processor seconds out and in, and the peak (MiB)."""

    out: float
    back: float
    peak: float


def run(report: Report) -> None:
    photos = _apart(0, PHOTOS)
    few, many = _apart(FEW, 0), _apart(MANY, 0)
    for name, little, much in (("exported", few.out, many.out), ("imported", few.back, many.back)):
        report.ratio(
            f"{name}: a tenth of {MANY:,} doors : {FEW:,}", much * FEW / MANY, little, 10 / MOST_TIMES
        )
        report.note(f"{name}: {MANY:,} doors took {much:.0f} s, {much / little:.1f} times {FEW:,}")
    for what, peak in ((f"{MANY:,} doors", many.peak), (f"{PHOTOS} photos", photos.peak)):
        report.at_most(f"peak memory with {what}", peak, MOST_MEMORY, "MiB")


def _apart(doors: int, photos: int) -> Spent:
    with tempfile.TemporaryDirectory(prefix="keyctl-bench-") as folder:
        context = multiprocessing.get_context("spawn")
        receiver, sender = context.Pipe(duplex=False)
        process = context.Process(target=_measure, args=(Path(folder), doors, photos, sender))
        process.start()
        spent: Spent = receiver.recv()
        process.join()
        return spent


def _measure(folder: Path, doors: int, photos: int, sender: Any) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()
    from django.conf import settings

    from keyctl.operations.archive.container import Cost, new_lock
    from keyctl.operations.archive.making import make_archive
    from keyctl.operations.archive.taking import import_archive
    from keyctl.operations.backup.snapshot import scratch_database
    from keyctl.vault import ring

    settings.CHECKPOINT_DIR, settings.HISTORY_KEY_FILE = folder / "checkpoints", folder / "history.key"
    passphrase, file = "six words that nobody drew by lot", folder / "archive"
    (folder / "one").mkdir()
    (folder / "two").mkdir()
    with scratch_database(folder / "one"):
        ring.make_first_keys()
        _furnish(doors, photos)
        begun = time.process_time()
        make_archive(file, new_lock(passphrase, Cost(64, 1, 1)))
        out = time.process_time() - begun
    with scratch_database(folder / "two"):
        begun = time.process_time()
        import_archive(file, passphrase)
        back = time.process_time() - begun
    sender.send(Spent(out, back, peak_memory_mib()))


def _furnish(doors: int, photos: int) -> None:
    """Photos row by row: what made them must not be what is measured."""
    from django.utils import timezone

    from keyctl.field.models import FieldPhoto
    from keyctl.places.models import Door
    from keyctl.vault import services as vault
    from tests import factories

    floor = factories.make_floor()
    door = factories.make_door(floor=floor)
    made = (Door(floor=floor, number=f"{number:06}", name="Office") for number in range(doors))
    Door.objects.bulk_create(made, batch_size=2_000)
    user = factories.make_user()
    for number in range(photos):
        photo = FieldPhoto(sha256=f"{number:064x}", size=PHOTO_BYTES, width=1, height=1, sent_by=user)
        photo.site, photo.door, photo.taken_by = door.site, door, user
        photo.claimed_at = photo.received_at = timezone.now()
        photo.content = vault.seal_bytes(photo, "content", os.urandom(PHOTO_BYTES))
        photo.save(force_insert=True)
