"""Rules as values: requirements of a delivery, and severities and thresholds in place of the checks' own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Demand:
    """A requirement.

    Attributes:
        value: The value, of the type that keys.py reads for its key.
        reason: The reason that the rules file states; "" if it states none.
    """

    value: object
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """A severity and thresholds in place of a check's own.

    Attributes:
        severity: "error", "warning" or "note" in place of the check's own; "off" if the check isn't run; "" for its own
            severity.
        thresholds: Values in place of the check's own, by the name of the threshold.
        reason: The reason that the rules file states; "" if it states none.
    """

    severity: str = ""
    thresholds: Mapping[str, float] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a folder.

    Attributes:
        demands: Requirements by key, "mesh.corners" for instance.
        checks: Severities and thresholds of checks, by their ids.
        file: The file that states them; None if there are no rules.
    """

    demands: Mapping[str, Demand] = field(default_factory=dict)
    checks: Mapping[str, CheckRule] = field(default_factory=dict)
    file: Path | None = None

    def value(self, key: str) -> object:
        """The value required for a key, None if nothing is required."""
        demand = self.demands.get(key)
        return None if demand is None else demand.value

    @property
    def frames(self) -> tuple[Fraction, Fraction] | None:
        """The first and last frame required."""
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
        """The reason of a check's own rule, or of the requirement that the check judges; "" if there is none."""
        own = self.checks.get(check, CheckRule()).reason
        return own or self.demands.get(_JUDGED_BY.get(check, ""), Demand(None)).reason


_JUDGED_BY = {"missing-frames": "frames.range", "scale-suspect": "scene.size"}
"""Checks that judge a requirement in the same way as a statement on the command line."""
