"""A crowd against the real server: people by role at pages, tablets and interfaces, for minutes.

    python -m tests.load --database sqlite --people 60 --minutes 10
    python -m tests.load --database postgres --doors 5000 --keep

The server is gunicorn as `.deploy/keyctl-web.service` starts it, in two processes, with two `manage.py work`
beside it. Everybody keeps a book of what was answered; afterwards the database is held against it.
"""
