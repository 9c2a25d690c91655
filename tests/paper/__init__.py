"""How the design goes on to two million doors: a simulation on the real tables, on PostgreSQL.

`bash .ci/postgres .venv/bin/python -m tests.paper` prints the figures of DEVELOPERS.md, "On to two
million doors".
"""
