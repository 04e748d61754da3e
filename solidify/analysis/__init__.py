"""Figures derived from a result: growth constants, traces, comparisons, measured points, numerical error."""
