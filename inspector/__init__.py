"""Inspect, fix and prove sequences of one mesh file per frame."""

__version__ = "0.1.0"
