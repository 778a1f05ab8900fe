"""Every threshold of the tool in one place, with its unit and the reason for its value."""

from __future__ import annotations

PLACES_KEPT = 5
"""Places kept for each kind of problem in a file. Enough to see a pattern; a thousand would say no more."""

MANY_CORNERS = 255
"""Corners of a face above which readers with a one-byte count overflow (format facts, section 3)."""
