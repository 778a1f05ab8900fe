"""Apply fixes from start to finish: inspect the source, plan, deliver, and compare the delivery with the source, block
by block."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.delivery.choices import Choice
from inspector.delivery.deliver import Delivery, deliver
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.fixes.base.fix import AnyStep
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.sequences import look_at_all


@dataclass(frozen=True)
class Fixed:
    """The result of one fix. `before` and `after` contain the content of all files by path."""

    plan: Plan
    delivery: Delivery
    before: dict[str, bytes]
    after: dict[str, bytes]

    @property
    def step(self) -> AnyStep:
        (step,) = self.plan.steps
        return step

    def changed(self) -> set[str]:
        return {name for name in self.before.keys() & self.after.keys() if self.before[name] != self.after[name]}

    def touched(self, name: str) -> set[bytes]:
        """Return the keywords whose blocks differ between the two versions of a frame."""
        before, after = blocks(self.before[name]), blocks(self.after[name])
        return {word for word in before.keys() | after.keys() if before.get(word) != after.get(word)}


def blocks(data: bytes) -> dict[bytes, bytes]:
    found: dict[bytes, bytes] = {}
    for block in read_frame(data).blocks:
        found[block.keyword] = found.get(block.keyword, b"") + data[block.start : block.stop]
    return found


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def plan_for(
    folder: Path,
    files: Mapping[str, bytes],
    fix: str,
    parameters: Mapping[str, object] | None = None,
    frames: tuple[int, ...] | None = None,
    **settings: Any,
) -> Plan:
    inspection = look_at_all(folder / "in", files, **settings)
    numbers = None if frames is None else tuple(map(Fraction, frames))
    return make_plan(inspection, [Choice(fix, parameters or {}, frames=numbers)])


def fixed(
    folder: Path,
    files: Mapping[str, bytes],
    fix: str,
    parameters: Mapping[str, object] | None = None,
    frames: tuple[int, ...] | None = None,
    **settings: Any,
) -> Fixed:
    """Apply one fix and deliver the result. Check that the source is unchanged and that nothing else is left beside the
    delivery."""
    plan = plan_for(folder, files, fix, parameters, frames, **settings)
    delivery = deliver(plan, folder / "out")
    assert files_of(folder / "in") == dict(files)
    assert {path.name for path in folder.iterdir()} == {"in", "out"}
    return Fixed(plan, delivery, dict(files), files_of(folder / "out"))
