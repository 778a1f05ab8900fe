"""Every threshold of the tool in one place, with its unit and the reason for its value."""

from __future__ import annotations

PLACES_KEPT = 5
"""Places kept for each kind of problem in a file. Enough to see a pattern; a thousand would say no more."""

MANY_CORNERS = 255
"""Corners of a face above which readers with a one-byte count overflow (format facts, section 3)."""

PARTS_OVERLAP = 0.3
"""Shared over joint volume of neighbouring boxes below which two files are "elsewhere". A fast mover still overlaps
itself by more from frame to frame at film rates; parts of a body hardly overlap (common practice, no source)."""

PARTS_SIZE_RATIO = 1.1
"""Ratio of box diagonals from which two files differ in size. Breathing motion stays below from frame to frame."""

PARTS_SHARE = 0.7
"""Share of neighbouring pairs that must differ in topology, size and place before files count as parts. Two parts of a
body may happen to be alike (left and right), so not all pairs need to differ."""
