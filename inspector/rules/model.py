"""Rules as values: requirements for a delivery, and severities and thresholds that replace those of the checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Demand:
    """A requirement.

    Attributes:
        value: The required value, of the type that rule_keys.py reads for the key.
        reason: The reason that the rules file states; "" if it states none.
    """

    value: object
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """A severity and thresholds that replace those of a check.

    Attributes:
        severity: "error", "warning" or "note" to replace the check's severity; "off" not to run the check; "" to keep
            the check's severity.
        thresholds: Values that replace those of the check, by the name of the threshold.
        reason: The reason that the rules file states; "" if it states none.
    """

    severity: str = ""
    thresholds: Mapping[str, float] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a folder.

    Attributes:
        demands: Requirements by key, such as "mesh.corners".
        checks: Severities and thresholds of checks, by their ids.
        file: The rules file; None if there is none.
    """

    demands: Mapping[str, Demand] = field(default_factory=dict)
    checks: Mapping[str, CheckRule] = field(default_factory=dict)
    file: Path | None = None

    def value(self, key: str) -> object:
        """The value required for a key; None if the rules require none."""
        demand = self.demands.get(key)
        return None if demand is None else demand.value

    @property
    def frames(self) -> tuple[Fraction, Fraction] | None:
        """The required first and last frames; None if the rules require none."""
        value = self.value("frames.range")
        return value if isinstance(value, tuple) else None

    @property
    def rate(self) -> Fraction | None:
        """The required frame rate, frames per second; None if the rules require none."""
        value = self.value("frames.rate")
        return value if isinstance(value, Fraction) else None

    @property
    def size(self) -> float | None:
        """The required longest side of the object in the reference frame, scene units; None if none is required."""
        value = self.value("scene.size")
        return value if isinstance(value, float) else None

    def reason(self, check: str) -> str:
        """The reason stated in a check's rule or, if that states none, in the requirement that the check judges.

        Args:
            check: Id of the check.

        Returns:
            The reason; "" if neither states one.
        """
        own = self.checks.get(check, CheckRule()).reason
        return own or self.demands.get(_JUDGED_BY.get(check, ""), Demand(None)).reason


_JUDGED_BY = {"missing-frames": "frames.range", "scale-suspect": "scene.size"}
"""Id of a check -> the requirement that the check judges in the same way as a statement on the command line."""
