"""Arithmetic of cores and keys: how quick, how large, and against what it was held."""

from tests.bench.wanted.entries import BUSY, Wanted

PINNING: tuple[Wanted, ...] = (
    Wanted(
        "100,000 keys in 100,000 cores, against columns in NumPy",
        "at least 100 times as quick, exact, kept sparse",
        lines=("audit: audit 100k x 100k, with both tries: column-wise", "audit: *sorted by key*"),
        why=BUSY,
    ),
    Wanted(
        "The same, against copying the packed answer of 1.25 GB",
        "less time than the copy",
        lines=("audit: audit 100k x 100k: copying the packed answer, 1.25 GB",),
        why=BUSY,
    ),
    Wanted(
        "One key in 1,000,000 cores, against a scan by columns",
        "at least 100 times as quick",
        lines=("audit: one key, 1M cores: *",),
        why="The scan has the narrowest columns there are, 16 bits, all in the cache; on a busy machine its "
        "share of the cache decides. Against columns of 64 bits it is several times what is wanted.",
    ),
    Wanted(
        "One changed core, against the whole audit",
        "at least 500 times as cheap",
        lines=("audit: one changed core: the full audit",),
        why=BUSY,
    ),
    Wanted(
        "Legal bittings of six positions counted, against listing in Python",
        "at least 10,000 times as quick",
        lines=("count: count, 6 positions, 10 depths*",),
        why=BUSY,
    ),
    Wanted(
        "The same under every further rule, and one bitting by its rank",
        "5 times listing; 100 times walking",
        lines=("count: count under every rule*", "count: usable bitting *"),
        why=BUSY,
    ),
    Wanted(
        "Keys that nobody meant, of 10,000 random cores, against a set",
        "at least 40 times as quick",
        lines=("incidental: 10,000 random cores, *",),
        why=BUSY,
    ),
    Wanted(
        "The same in other shapes: the reference estate, twelve positions, near misses",
        "3 times a set; 0.2 s; 20 times looking at every pair",
        lines=("incidental: 10,000 cores of the ref*", "incidental: 1,000 pro*", "incidental: near misses*"),
        why=BUSY,
    ),
    Wanted(
        "A lock chart of 460 x 450, 15 % cross-keyed, 10 % in use, against the whole model",
        "at least 20 times as quick; a smaller one 5 times, and against CP-SAT",
        lines=("charts: chart *, all clauses at once", "charts: chart *, CP-SAT"),
        why=BUSY,
    ),
    Wanted(
        "A lock chart of 3,000 x 3,000",
        "within 60 s, hoped for 10 s",
        lines=(
            "charts: chart 3,* locks, as was hoped for",
            "charts: chart 3,??? keys x 3,??? locks",
        ),
        why=BUSY,
    ),
    Wanted(
        "Memory of audits, incidental keys and charts",
        "below 2 GB each",
        lines=("audit: peak memory *", "incidental: peak memory *", "charts: peak memory *"),
    ),
    Wanted(
        "`turn` against mechanics modelled slice by slice",
        "1,000,000 random cases without a difference",
        tests=("tests/pinning/test_against_oracle.py::test_a_million_keys_turn_as_the_mechanics_say",),
        tried="1,000,000 cases",
    ),
    Wanted(
        "`pin` and `turn` against the same",
        "100,000 random cases without a difference",
        tests=(
            "tests/pinning/test_against_oracle.py::test_any_pins_turn_as_the_mechanics_say",
            "tests/pinning/test_against_oracle.py::test_keys_get_a_core_exactly_if_the_rules_allow_one",
        ),
        tried="50,000 turns of random pins and 50,000 sets of keys",
    ),
    Wanted(
        "`count`, `progress`, `audit`, incidental keys and `solve` against trying everything",
        "100,000 random small cases each without a difference",
        lines=("trials: *",),
        tests=(
            "tests/pinning/test_methods.py::test_the_count_in_columns_equals_listing",
            "tests/pinning/test_methods.py::test_a_method_gives_the_keys_that_it_means",
            "tests/pinning/test_rules.py::test_the_count_equals_listing_every_bitting",
            "tests/pinning/test_joins.py::test_an_audit_equals_turning_every_key_in_every_core",
            "tests/pinning/test_incidental.py::test_incidental_keys_equal_trying_every_bitting",
            "tests/pinning/test_solving.py::test_a_chart_is_solved_exactly_if_some_bittings_do_what_it_asks",
        ),
        tried="300 charts to 40,000 counts",
    ),
    Wanted(
        "The count that an open publication has: 753,754 of six positions, ten depths, limit seven",
        "the same, and 4,096 changes of an array of four by six",
        tests=(
            "tests/pinning/test_published.py::test_legal_bittings_are_counted",
            "tests/pinning/test_published.py::test_total_position_progression_gives_the_published_changes",
            "tests/pinning/test_published.py::test_a_page_under_a_three_pin_master_holds_sixty_four_changes",
        ),
        tried="every published value in fixtures/published",
    ),
    Wanted(
        "A top master from 30 decoded cores of a system",
        "among the first three candidates",
        tests=(
            "tests/keyctl/demo/test_demo.py::"
            "test_thirty_decoded_cores_of_a_system_show_its_top_master_among_three",
        ),
        tried="each system of the invented estate",
    ),
    Wanted(
        "A tree of keys with search and folding for 20,000 keys",
        "as many questions to the database as for few",
        tests=("tests/keyctl/systems/test_large_tree.py::test_every_view_asks_a_bounded_number_of_times",),
        tried="20,000 keys",
    ),
    Wanted(
        "A system of 16,384 changes made, stored, put on 5,000 cores, proven and printed",
        "as jobs whose progress is seen",
        lines=("system: *",),
        tests=(
            "tests/browser/test_key_system.py::test_a_system_is_designed_made_cored_and_proven_from_the_pages",
            "tests/browser/test_key_system.py::test_its_lists_hold_every_key_and_each_export_is_in_the_log",
        ),
        tried="160 changes on the pages",
        why=BUSY,
    ),
)
