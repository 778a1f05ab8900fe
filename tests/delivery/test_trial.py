"""Tests of trying a plan in memory. Fixes that would make the folder worse are left out of the plan, unless the user
asked for them by name."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.drafting import untried_plan
from inspector.delivery.planning import make_plan
from inspector.delivery.trial import inspection_after
from inspector.inspection.inspection import FolderInspection, inspect_folder
from tests.helpers.broken.motion import stuck
from tests.helpers.broken.topology import wound_back
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import files_of
from tests.helpers.meshes import Mesh, wing
from tests.helpers.rules import rules_of
from tests.helpers.sequences import look_at_all, shot
from tests.helpers.uvs import all_laid, unpainted

BROKEN = ("manta_broken", "kelp_broken")
MODES = {"lossless": lossless_choices, "all": all_choices}
FAR: Mapping[str, object] = {"x": 1e7}


def said(result: FolderInspection) -> list[tuple[object, ...]]:
    return sorted(
        (one.sequence.key, finding.check, finding.severity, finding.message, finding.frames)
        for one in result.inspections
        for finding in one.findings
    )


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("name", BROKEN)
def test_the_trial_says_what_the_delivery_says_and_nothing_gets_worse(
    demo: Path, tmp_path: Path, name: str, mode: str
) -> None:
    before = inspect_folder(demo / name)
    plan = make_plan(before, MODES[mode](before))
    assert plan.steps
    counted: list[tuple[int, int]] = []
    trial = inspection_after(plan, lambda *progress: counted.append(progress))
    frames = sum(len(one.outputs) for one in plan.sequences)
    assert counted == [(done, frames) for done in range(1, frames + 1)]
    assert [one.verdict.failed for one in trial.inspections] == [()]
    delivery = deliver(plan, tmp_path / "out")
    assert said(trial) == said(delivery.after)
    assert delivery.proof.new == ()
    for severity in (Severity.ERROR, Severity.WARNING):
        assert delivery.after.count(severity) <= before.count(severity)


def test_frames_without_a_finding_are_delivered_as_they_are(demo: Path, tmp_path: Path) -> None:
    before = inspect_folder(demo / "manta_broken")
    plan = make_plan(before, all_choices(before))
    deliver(plan, tmp_path / "out")
    (one,) = plan.sequences
    answered = {number for finding in one.inspection.findings for number in finding.frames}
    ours, theirs = files_of(demo / "manta_broken"), files_of(tmp_path / "out")
    healthy = [facts.file.name.text for facts in one.inspection.series.facts if facts.number not in answered]
    assert healthy
    assert [name for name in healthy if ours[name] != theirs[name]] == []


def test_a_step_that_adds_a_finding_is_left_out_with_the_finding(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare}))
    plan = make_plan(inspection, [*lossless_choices(inspection), Choice("offset", FAR, asked=False)])
    assert [step.fix for step in plan.steps] == ["uv-restore"]
    (refused,) = plan.sequences[0].refused
    assert refused.fix == "offset"
    assert refused.reason.startswith("left out because it would add a warning, far-from-origin: ")


def test_a_fix_that_only_replaces_a_finding_with_another_is_left_out(demo: Path, tmp_path: Path) -> None:
    """According to the demo's table, only frame 18 uses a material that is not defined. The fix defines this material
    as mid grey, but the manta's usual material has a texture."""
    inspection = inspect_folder(demo / "manta_broken")
    plan = make_plan(inspection, all_choices(inspection))
    reason = {one.reason for one in plan.sequences[0].refused if one.fix == "neutral-material"}
    assert [text[:80] for text in reason] == [
        "left out because it would replace material-undefined with a warning, materials-change: "[:80]
    ]
    asked = make_plan(inspection, [*lossless_choices(inspection), Choice("neutral-material")])
    assert [step.frames for step in asked.steps if step.fix == "neutral-material"] == [(18,)]
    proof = deliver(asked, tmp_path / "out").proof
    assert [(finding.check, finding.frames) for _, finding in proof.new] == [("materials-change", (18,))]


def test_a_lossless_fix_may_show_what_another_finding_hid(tmp_path: Path) -> None:
    """In the source, the reversed faces of frame 5 hide the frame's jump."""

    def turned_and_far(mesh: Mesh) -> Mesh:
        return wound_back(mesh).edit(positions=mesh.positions + np.array([0.0, 40.0, 0.0]))

    inspection = look_at_all(tmp_path / "in", shot({5: turned_and_far}))
    assert [finding.check for finding in inspection.inspections[0].findings] == ["winding"]
    plan = make_plan(inspection, lossless_choices(inspection))
    assert [step.fix for step in plan.steps] == ["flip-winding"]
    delivery = deliver(plan, tmp_path / "out")
    assert "centre-jump" in {finding.check for finding in delivery.after.inspections[0].findings}
    assert delivery.proof.new == ()


def test_what_was_asked_for_by_name_is_done_all_the_same(tmp_path: Path) -> None:
    plan = make_plan(look_at_all(tmp_path, shot()), [Choice("offset", FAR)])
    assert [step.fix for step in plan.steps] == ["offset"]


def test_a_sequence_without_uvs_does_not_get_them_on_some_frames(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, unpainted(shot(dict.fromkeys(range(1, 13), bare))))
    some = Choice("uv-planar", {"axis": "y"}, frames=(Fraction(1), Fraction(2)), asked=False)
    assert untried_plan(inspection, [some]).steps
    plan = make_plan(inspection, [some])
    assert plan.steps == ()
    (refused,) = plan.sequences[0].refused
    assert refused.reason == "left out because frames 3-12 would have faces without UVs, unlike the other frames"


def test_a_repaired_frame_may_have_what_the_reference_has(tmp_path: Path) -> None:
    """After the fix, frame 7 has the same collapsed UVs as the other frames, so the warning isn't new."""
    smeared = all_laid(lambda uv: uv * [0, 1] + [0.7, 0])
    before = look_at_all(tmp_path / "in", smeared | {"manta.0007.obj": bare(wing(7)).text()})
    (warning,) = (one for one in before.inspections[0].findings if one.check == "uv-collapsed")
    assert 7 not in warning.frames
    proof = deliver(make_plan(before, lossless_choices(before)), tmp_path / "out").proof
    assert (proof.new, proof.left, proof.second) == ((), (), 0)


def test_a_held_frame_that_is_seen_to_be_frozen_stops_no_repair_near_it(tmp_path: Path) -> None:
    """Frame 7 is found to be frozen only after the missing frame 5 is filled."""
    files = stuck(7)
    del files["manta.0005.obj"]
    for corners, steps in ("[]", ["fill-frames"]), ("[3]", ["triangulate", "fill-frames"]):
        rules = rules_of(tmp_path, f"[mesh]\ncorners = {corners}\n" if corners != "[]" else "")
        inspection = look_at_all(tmp_path / corners, files, rules=rules)
        plan = make_plan(inspection, all_choices(inspection))
        assert [step.fix for step in plan.steps] == steps
        assert plan.sequences[0].refused == ()


def test_harm_is_not_put_down_to_the_only_step_that_was_not_asked_for(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare}))
    plan = make_plan(inspection, [*lossless_choices(inspection), Choice("offset", FAR)])
    assert [step.fix for step in plan.steps] == ["uv-restore", "offset"]
    assert plan.sequences[0].refused == ()
