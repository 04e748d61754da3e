"""Limit checks, their uncertainty, and the breakout risk of a solved strand."""
