"""Rules as values: requirements for a delivery, and severities and thresholds of checks."""

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
        reason: The reason that the rules file gives; "" for none.
    """

    value: object
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """Severity and thresholds that replace those of a check.

    Attributes:
        severity: The new severity: "error", "warning" or "note"; "off" to skip the check; "" to keep the check's own
            severity.
        thresholds: The new values of thresholds, by their names.
        reason: The reason that the rules file gives; "" for none.
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
        file: The rules file; None for no rules.
    """

    demands: Mapping[str, Demand] = field(default_factory=dict)
    checks: Mapping[str, CheckRule] = field(default_factory=dict)
    file: Path | None = None

    def value(self, key: str) -> object:
        """Return the value that the rules require for a key; None if they require none."""
        demand = self.demands.get(key)
        return None if demand is None else demand.value

    @property
    def frames(self) -> tuple[Fraction, Fraction] | None:
        """The first and the last frame number that the rules require; None if they require none."""
        value = self.value("frames.range")
        return value if isinstance(value, tuple) else None

    @property
    def rate(self) -> Fraction | None:
        """The required frame rate, in frames per second; None if the rules require none."""
        value = self.value("frames.rate")
        return value if isinstance(value, Fraction) else None

    @property
    def size(self) -> float | None:
        """The required length of the object's longest side in the reference frame, in scene units; None if the rules
        require none."""
        value = self.value("scene.size")
        return value if isinstance(value, float) else None

    def reason(self, check: str) -> str:
        """Return the reason that the rules give for a check or, if they give none, the reason for the requirement that
        the check judges; "" if there is no reason."""
        own = self.checks.get(check, CheckRule()).reason
        return own or self.demands.get(_JUDGED_BY.get(check, ""), Demand(None)).reason


_JUDGED_BY = {"missing-frames": "frames.range", "scale-suspect": "scene.size"}
"""Keys of requirements that can also be stated on the command line, by id of the check that judges them."""
