"""Rules as values: what is demanded of a delivery, and how checks are judged other than by default."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Demand:
    """value: of the type that keys.py reads for its key. reason: the file's own words, "" without any."""

    value: object
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """severity: "error", "warning" or "note" in place of the check's own; "off": it isn't run; "": its own.
    thresholds: name -> value in place of the check's own."""

    severity: str = ""
    thresholds: Mapping[str, float] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Rules:
    """demands: key ("mesh.corners") -> demand. checks: check id -> rule. file: where they stand; None: no rules."""

    demands: Mapping[str, Demand] = field(default_factory=dict)
    checks: Mapping[str, CheckRule] = field(default_factory=dict)
    file: Path | None = None

    def value(self, key: str) -> object:
        """What is demanded, or None."""
        demand = self.demands.get(key)
        return None if demand is None else demand.value

    @property
    def frames(self) -> tuple[Fraction, Fraction] | None:
        """First and last frame that are demanded."""
        value = self.value("frames.range")
        return value if isinstance(value, tuple) else None

    @property
    def rate(self) -> Fraction | None:
        """Frames per second."""
        value = self.value("frames.rate")
        return value if isinstance(value, Fraction) else None

    @property
    def size(self) -> float | None:
        """Longest side of the object in the reference frame, scene units."""
        value = self.value("scene.size")
        return value if isinstance(value, float) else None

    def reason(self, check: str) -> str:
        """The reason behind what a check is held to: of its own rule, or of the demand that it judges."""
        own = self.checks.get(check, CheckRule()).reason
        return own or self.demands.get(_JUDGED_BY.get(check, ""), Demand(None)).reason


_JUDGED_BY = {"missing-frames": "frames.range", "scale-suspect": "scene.size"}
"""Checks that judge a demand as they judge what is stated on the command line."""
