"""Benchmarks, never timed tests: ``python -m tests.bench NAME [--json]``."""
