"""At the door: tablets without a network, labels, waves."""

from tests.bench.wanted.entries import BUSY, Wanted

FIELD: tuple[Wanted, ...] = (
    Wanted(
        "10,000 facts that 20 tablets queued, sent at once",
        "all answered within 120 s, none lost or doubled; 1/40 of bare inserts",
        lines=("field: *",),
        why=BUSY,
    ),
    Wanted(
        "Worlds of tablets played: lost answers, repeats, another order, wrong clocks",
        "20,000, nothing lost and nothing doubled",
        tests=("tests/keyctl/field/simulator/test_worlds.py::test_nothing_is_lost_and_nothing_doubled",),
        tried="20,000 worlds on SQLite, 200 on PostgreSQL",
    ),
    Wanted(
        "Ten swaps without a network, a reload and a sign-out between",
        "all there once",
        tests=("tests/browser/test_field_offline.py::test_ten_swaps_without_a_network_are_all_there_once",),
        tried="ten",
    ),
    Wanted(
        "Waves for 2,000 cores with 150 spares, above the least number of visits there can be",
        "at most 5 %; no more visits than a list worked from its top",
        lines=("rotations: gap to the bound, *", "rotations: visits, *"),
    ),
    Wanted(
        "Codes on labels, read back from pictures at 150 dpi by another reader",
        "all read, at least 12 mm wide",
        tests=(
            "tests/keyctl/labels/test_print_labels.py::"
            "test_every_code_is_read_back_at_150_dpi_and_is_12_mm_wide",
        ),
        tried="cores, cabinets and doors",
    ),
    Wanted(
        "Controls of the app at the door",
        "at least 48 px",
        tests=("tests/browser/test_field_look.py::test_every_page_fits_and_every_target_is_large",),
        tried="every view, phone and tablet",
    ),
)
