"""Benchmarks, run on demand: ``python -m tests.bench [topic ...]``. No test asks how long something took."""
