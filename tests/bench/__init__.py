"""Measurements at full size: `python -m tests.bench` prints a table of ratios."""
