"""Faults made on purpose against the real server: killed, out of room, without power.

Whatever it answered must still be there.

    python -m tests.faults kill --times 1000 --database sqlite
    python -m tests.faults kill --times 300 --database postgresql
    python -m tests.faults power --times 200

The server is gunicorn as `.deploy/keyctl-web.service` starts it, with the product's own settings, on a disk.
"""
