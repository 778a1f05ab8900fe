"""Rules as values: requirements for a delivery, and severities and thresholds that replace those of the checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Demand:
    """A requirement for a delivery.

    Attributes:
        value: The required value, of the type that rule_keys.py reads for the key.
        reason: The reason stated in the rules file; "" if no reason is stated.
    """

    value: object
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """A severity and thresholds that replace those of a check.

    Attributes:
        severity: The severity that replaces the check's severity: "error", "warning" or "note". "off" skips the
            check; "" keeps its severity.
        thresholds: Values that replace those of the check, by the name of the threshold.
        reason: The reason stated in the rules file; "" if no reason is stated.
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
        """Return the value that the rules require for a key; None if they don't require one."""
        demand = self.demands.get(key)
        return None if demand is None else demand.value

    @property
    def frames(self) -> tuple[Fraction, Fraction] | None:
        """The required first and last frame number; None if the rules don't require a range."""
        value = self.value("frames.range")
        return value if isinstance(value, tuple) else None

    @property
    def rate(self) -> Fraction | None:
        """The required frame rate, frames per second; None if the rules don't require one."""
        value = self.value("frames.rate")
        return value if isinstance(value, Fraction) else None

    @property
    def size(self) -> float | None:
        """The required length of the object's longest side in the reference frame, scene units; None if the rules don't
        require one.
        """
        value = self.value("scene.size")
        return value if isinstance(value, float) else None

    def reason(self, check: str) -> str:
        """Return the reason that the rules state for a check.

        If no reason is stated for the check itself, the reason of the requirement that the check judges is returned.

        Args:
            check: Id of the check.

        Returns:
            The reason; "" if the rules state no reason.
        """
        own = self.checks.get(check, CheckRule()).reason
        return own or self.demands.get(_JUDGED_BY.get(check, ""), Demand(None)).reason


_JUDGED_BY = {"missing-frames": "frames.range", "scale-suspect": "scene.size"}
"""Key of the requirement that a check judges, by id of the check. Users can also state these requirements on the
command line."""
