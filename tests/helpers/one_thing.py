"""The test that every check has: the check is silent on a healthy shot, and reports a shot with one defect."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from inspector.inspection.inspection import Inspection
from tests.helpers.meshes import wing
from tests.helpers.sequences import Files, Heard, finding_of, heard, look, shot

TEXT = wing(5).text()
FACE = b"f 1/1 2/2 7/5 6/4"


def broken(
    folder: Path,
    check: str,
    files: Mapping[str, bytes],
    good: Mapping[str, bytes] | None = None,
    companions: Mapping[str, str] | None = None,
    inspect: Callable[[Path], Inspection] | None = None,
    **settings: Any,
) -> tuple[list[Heard], Inspection]:
    """Check that exactly `check` and the `companions` report a defect, and that no check reports anything on a healthy
    shot.

    test_registry.py requires a call of this function for every check.

    Args:
        folder: An empty folder.
        check: The id of a check. The check must not be skipped on the healthy shot.
        files: The files with the defect.
        good: A healthy shot without the defect, by default the usual healthy shot.
        companions: Other checks that report the defect, with the reason why each of them is right.
        inspect: Inspects the folder. Needed if the content of the files alone doesn't cause the defect.
        **settings: Settings of the inspection.

    Returns:
        All findings about the files, and the inspection.
    """
    usual = good is None and not settings
    skipped = (
        _skipped_usually() if usual else _skipped_on(folder / "healthy", shot() if good is None else good, settings)
    )
    assert check not in skipped, f"{check} is skipped on the healthy shot ({skipped.get(check)}): pass a `good` one"
    inspection = look(folder / "broken", files, **settings)
    if inspect is not None:
        inspection = inspect(folder / "broken")
    spoke, wanted = {one for one, _, _ in heard(inspection)}, {check, *(companions or {})}
    assert spoke == wanted, (
        f"silent: {sorted(wanted - spoke)}; reports as well: {sorted(spoke - wanted)}. Where one check explains the "
        "other, name it in `explained_by`; where both are right, pass companions={id: why} here.\n"
        f"{heard(inspection)}"
    )
    assert all(reason.strip() for reason in (companions or {}).values()), "each companion needs its reason"
    return heard(inspection), inspection


def _skipped_on(folder: Path, good: Mapping[str, bytes], settings: Mapping[str, Any]) -> dict[str, str]:
    healthy = look(folder, good, **settings)
    assert heard(healthy) == [], (
        f"reported on the healthy shot: {heard(healthy)}. Raise NotApplicable where there is nothing to judge, or pass "
        "a `good` shot that has what the check looks for, without the fault"
    )
    return dict(healthy.verdict.skipped)


@cache
def _skipped_usually() -> dict[str, str]:
    """Return the checks that are skipped on the usual healthy shot, which is inspected only once."""
    with TemporaryDirectory() as folder:
        return _skipped_on(Path(folder), shot(), {})


def every(change: Callable[[bytes], bytes], files: Files | None = None) -> Files:
    """Return the healthy shot, or other files, with every frame changed in the same way."""
    files = shot() if files is None else files
    return {name: change(data) if name.endswith(".obj") else data for name, data in files.items()}


def same_form(inspection: Inspection, check: str, kind: str) -> None:
    """Check that a check has exactly one finding, and that the finding is of the given kind and has locations only in
    frame 5."""
    finding = finding_of(inspection, check)
    assert finding.numbers["kind"] == kind
    assert {where.file.raw for where in finding.where} == {b"manta.0005.obj"}
    assert all(where.line is not None for where in finding.where)
