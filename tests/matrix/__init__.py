"""Every right of the product as tables, and everybody who stands in them.

``python -m tests.matrix`` writes ``fixtures/permissions.csv`` and ``fixtures/permissions-of-programs.csv``
from the declared policies and the exceptions in ``exceptions.py``; ``tests/test_permissions.py`` holds every
cell against the running product.
"""
