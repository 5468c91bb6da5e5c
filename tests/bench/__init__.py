"""Benchmarks: programs that print figures, not tests."""
