"""Rodtrue: measures a throttle rod and says long, short or correct."""

__version__ = "0.1.0"
