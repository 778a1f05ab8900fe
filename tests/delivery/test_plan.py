"""Tests of plans."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from inspector.delivery.choices import Choice, Refused, all_choices, lossless_choices, sequence_key
from inspector.delivery.deliver import deliver
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import plan_from_json, plan_to_json
from inspector.delivery.planning import make_plan
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken.motion import stuck
from tests.helpers.broken.shape import doubled
from tests.helpers.broken.uvs import bare, reassigned, slid_along
from tests.helpers.meshes import wing
from tests.helpers.rules import rules_of
from tests.helpers.sequences import frames, look_at_all, shot


def kelp(demo: Path) -> FolderInspection:
    folder = demo / "kelp_broken"
    settings = Settings((Fraction(1), Fraction(15)), 1.8, uvs_from=folder / "kelp_rest.obj", invent_at_most=3)
    return inspect_folder(folder, settings)


def fixes(plan: Plan) -> list[str]:
    return [step.fix for step in plan.steps]


def test_a_healthy_folder_needs_no_step(demo: Path) -> None:
    inspection = inspect_folder(demo / "manta")
    assert all_choices(inspection) == ()
    plan = make_plan(inspection, lossless_choices(inspection))
    assert plan.steps == ()
    assert [one.file.text for one in plan.sequences[0].outputs] == [f"manta.{number:04}.obj" for number in range(1, 25)]


def test_plain_takes_exact_fixes_alone(demo: Path) -> None:
    inspection = kelp(demo)
    plan = make_plan(inspection, lossless_choices(inspection))
    assert fixes(plan) == ["share-library", "collect-textures"]
    assert {fix_by_id(name).kind for name in fixes(plan)} == {FixKind.LOSSLESS}


def test_every_takes_constants_and_inventions_too_in_canonical_order(demo: Path) -> None:
    inspection = kelp(demo)
    plan = make_plan(inspection, all_choices(inspection))
    assert fixes(plan) == ["uv-donor", "scale", "fill-frames", "share-library", "collect-textures"]


@pytest.mark.parametrize("name", ["manta_broken", "kelp_broken"])
def test_no_value_of_a_frame_is_decided_twice(demo: Path, name: str) -> None:
    inspection = kelp(demo) if name == "kelp_broken" else inspect_folder(demo / name)
    plan = make_plan(inspection, all_choices(inspection))
    claims = Counter(
        (claim, frame) for step in plan.steps for frame in step.frames for claim in fix_by_id(step.fix).claims
    )
    assert max(claims.values()) == 1


def test_what_can_not_be_answered_is_refused_with_its_reason(demo: Path) -> None:
    inspection = inspect_folder(demo / "manta_broken", Settings(invent_at_most=7))
    choices = [choice for choice in all_choices(inspection) if choice.fix != "neutral-material"]
    (plan,) = make_plan(inspection, choices).sequences
    assert [(one.fix, one.frames) for one in plan.refused] == [("share-library", (18,))]
    assert "manta_skin_wet" in plan.refused[0].reason


def test_a_frame_made_anew_needs_nothing_else(tmp_path: Path) -> None:
    def lost_and_bare(mesh):  # type: ignore[no-untyped-def]
        return bare(mesh).edit(faces=bare(mesh).faces[:-1])

    inspection = look_at_all(tmp_path, shot({4: lost_and_bare}))
    assert {finding.check for finding in inspection.inspections[0].findings} == {"face-count", "no-uvs"}
    plan = make_plan(inspection, all_choices(inspection))
    assert [(step.fix, step.frames) for step in plan.steps] == [("fill-frames", (4,))]
    assert plan.sequences[0].refused == ()


def test_two_findings_of_one_fix_are_one_step(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare, 5: reassigned, 7: slid_along}))
    (step,) = make_plan(inspection, lossless_choices(inspection)).steps
    assert (step.fix, step.frames) == ("uv-restore", (3, 5, 7))
    assert set(step.answers) == {"no-uvs", "uv-mismatch", "uv-values"}


def test_two_fixes_for_the_same_values_are_refused_with_both_names(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare}))
    donor = tmp_path / "rest.obj"
    donor.write_bytes(wing(0).text())
    both = [
        Choice("uv-restore", frames=(Fraction(3),)),
        Choice("uv-donor", {"from": str(donor)}, frames=(Fraction(3),)),
    ]
    with pytest.raises(Refusal, match="uv-restore and uv-donor both set the UVs of frame 3"):
        make_plan(inspection, both)
    with pytest.raises(Refusal, match=r"scale and scale both set .*; choose only one of them"):
        make_plan(inspection, [Choice("scale", {"factor": "2"}), Choice("scale", {"factor": "3"})])


TRIANGLES = "[mesh]\ncorners = [3]\n"


@pytest.mark.parametrize("asked", [False, True])
def test_a_frame_made_from_others_has_what_a_step_of_all_frames_did_to_those(tmp_path: Path, asked: bool) -> None:
    """Frame 6 is a blend of frames that `triangulate` has already changed, so it consists of triangles, too. Source:
    the descriptions of the fixes."""
    inspection = look_at_all(tmp_path / "in", stuck(6), rules=rules_of(tmp_path, TRIANGLES))
    choices = [Choice("triangulate"), Choice("fill-frames")] if asked else all_choices(inspection)
    plan = make_plan(inspection, choices)
    others = tuple(Fraction(number) for number in range(1, 13) if number != 6)
    assert [(step.fix, step.frames) for step in plan.steps] == [("triangulate", others), ("fill-frames", (6,))]
    assert plan.sequences[0].refused == ()
    delivery = deliver(plan, tmp_path / "out")
    assert delivery.after.count(Severity.ERROR) == delivery.after.count(Severity.WARNING) == 0
    faces = [facts.faces for facts in delivery.after.inspections[0].series.facts]
    assert faces == [2 * len(wing(0).faces)] * 12


def test_of_two_fixes_that_nobody_named_one_is_left_out_and_the_other_done(tmp_path: Path) -> None:
    """`triangulate` is kept, because it corrects an error: a face that isn't a triangle breaks a delivery rule.
    `drop-duplicate-faces` corrects only a warning."""
    files = shot(dict.fromkeys(range(1, 13), lambda mesh: mesh.edit(faces=(*mesh.faces, mesh.faces[2]))))
    inspection = look_at_all(tmp_path / "in", files, rules=rules_of(tmp_path, TRIANGLES))
    every = all_choices(inspection)
    assert {choice.fix for choice in every} == {"triangulate", "drop-duplicate-faces"}
    plan = make_plan(inspection, every)
    assert fixes(plan) == ["triangulate"]
    reason = "left out because triangulate also sets the faces of frames 1-12"
    (refused,) = plan.sequences[0].refused
    chosen = "; use --without triangulate to apply drop-duplicate-faces instead"
    assert refused == Refused("drop-duplicate-faces", (), reason + chosen)

    assert fixes(make_plan(inspection, [one for one in every if one.fix != "triangulate"])) == ["drop-duplicate-faces"]
    named = Choice("drop-duplicate-faces")
    plan = make_plan(inspection, [*(one for one in every if one.fix != named.fix), named])
    assert fixes(plan) == ["drop-duplicate-faces"]
    (refused,) = plan.sequences[0].refused
    assert refused == Refused(
        "triangulate", (), "left out because drop-duplicate-faces also sets the faces of frames 1-12"
    )
    with pytest.raises(Refusal, match="drop-duplicate-faces and triangulate both set the faces of frames 1-12; choose"):
        make_plan(inspection, [named, Choice("triangulate")])


def test_a_fix_left_out_for_another_is_done_if_that_other_does_harm(tmp_path: Path) -> None:
    """Each frame contains one of its faces twice, and the copy starts at a different corner. `triangulate` therefore
    cuts the face and its copy along different diagonals, into triangles that overlap but are not duplicates."""
    files = shot(dict.fromkeys(range(1, 13), doubled))
    inspection = look_at_all(tmp_path / "in", files, rules=rules_of(tmp_path, TRIANGLES))
    plan = make_plan(inspection, all_choices(inspection))
    assert fixes(plan) == ["drop-duplicate-faces"]
    (refused,) = plan.sequences[0].refused
    assert refused.fix == "triangulate"
    assert refused.reason.startswith("left out because it would add a warning, uv-overlap: ")


def test_what_was_asked_for_by_name_never_replaces_what_a_lossless_fix_restores(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare}))
    donor = tmp_path / "rest.obj"
    donor.write_bytes(wing(0).text())
    asked = Choice("uv-donor", {"from": str(donor)})
    with pytest.raises(Refusal) as refusal:
        make_plan(inspection, [*lossless_choices(inspection), asked])
    assert str(refusal.value) == (
        "uv-donor: left out because uv-restore, which is lossless, corrects the same findings; use --without "
        "uv-restore to apply uv-donor instead"
    )
    assert refusal.value.answers == (("--without", "uv-restore"),)
    plan = make_plan(inspection, [asked])
    assert [(step.fix, step.frames) for step in plan.steps] == [("uv-donor", (3,))]


def test_a_fix_that_was_asked_for_gets_the_frames_that_no_lossless_fix_corrects(demo: Path) -> None:
    inspection = inspect_folder(demo / "manta_broken", Settings(invent_at_most=8))
    others = lossless_choices(inspection)
    for fix, lossless, corrected in (
        ("neutral-material", "share-library", (15,)),
        ("fill-frames", "restore-faces", (20, 22)),
    ):
        plan = make_plan(inspection, [*others, Choice(fix)])
        frames = {step.fix: step.frames for step in plan.steps}
        assert set(corrected) <= set(frames[lossless])
        assert frames[fix] == {"neutral-material": (18,), "fill-frames": (4, 7, 10, 19, 21, 23)}[fix]
        (refused,) = (one for one in plan.sequences[0].refused if one.fix == fix)
        assert refused.frames == corrected
        assert refused.reason.endswith(f"; use --without {lossless} to apply {fix} instead")
        instead = make_plan(inspection, [*(one for one in others if one.fix != lossless), Choice(fix)])
        assert set(corrected) <= {frame for step in instead.steps if step.fix == fix for frame in step.frames}


@pytest.mark.parametrize(("fix", "frame"), [("neutral-material", 15), ("fill-frames", 20), ("uv-planar", 3)])
def test_on_frames_that_were_chosen_a_finding_is_corrected_once(demo: Path, fix: str, frame: int) -> None:
    inspection = inspect_folder(demo / "manta_broken")
    plan = make_plan(inspection, [*lossless_choices(inspection), Choice(fix, frames=(Fraction(frame),))])
    assert [step.fix for step in plan.steps if frame in step.frames] == [fix]


def test_a_fix_that_was_asked_for_is_applied_to_the_sequences_that_need_it(demo: Path) -> None:
    """According to the demo's tables of defects, only the broken manta has outliers."""
    inspection = inspect_folder(demo)
    choices = [*lossless_choices(inspection), Choice("align-outlier")]
    steps = {
        one.key: [step.frames for step in one.steps if step.fix == "align-outlier"]
        for one in make_plan(inspection, choices).sequences
    }
    assert {key: frames for key, frames in steps.items() if frames} == {
        "manta_broken/manta_broken.####.obj": [(13, 16)]
    }
    halved = make_plan(inspection, [Choice("scale", {"factor": 0.5})])
    assert [one.steps[0].fix for one in halved.sequences] == ["scale"] * 4, "what is stated is stated for all"
    with pytest.raises(Refusal, match="flip-normals: "):
        make_plan(inspection, [Choice("flip-normals")])


def test_an_unknown_fix_is_refused_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"there is no fix polish; the fixes are drop-repeated-frames, "):
        make_plan(look_at_all(tmp_path, shot()), [Choice("polish")])
    with pytest.raises(Refusal, match=r"there is no fix scal; nearest: scale$"):
        make_plan(look_at_all(tmp_path, shot()), [Choice("scal")])


def test_a_plan_corrects_the_next_export_as_well(tmp_path: Path) -> None:
    first = look_at_all(
        tmp_path / "1",
        shot({3: bare} | {n: lambda m: m.edit(positions=m.positions * 100) for n in range(4, 5)}),
    )
    plan = make_plan(first, [*lossless_choices(first), Choice("scale", {"size": "2"})])
    again = plan_from_json(plan_to_json(plan)).choices
    second_shot = {name: data for name, data in shot({5: bare, 6: slid_along}).items() if not name.endswith(".obj")}
    meshes = {number: wing(number) for number in range(1, 9)}
    meshes[5], meshes[6] = bare(meshes[5]), slid_along(meshes[6])
    second = look_at_all(tmp_path / "2", second_shot | frames(meshes, "manta_v2."))
    steps = make_plan(second, again).steps
    assert [(step.fix, step.frames) for step in steps] == [
        ("uv-restore", (5, 6)),
        ("scale", tuple(range(1, 9))),
    ]
    assert steps[1].parameters["factor"] == plan.steps[-1].parameters["factor"]


def test_frames_that_were_chosen_stay_chosen_in_the_file(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot({3: bare, 5: bare}))
    plan = make_plan(inspection, [Choice("uv-restore", frames=(Fraction(5),))])
    (choice,) = plan_from_json(plan_to_json(plan)).choices
    assert choice == Choice("uv-restore", {}, sequence_key(inspection.inspections[0]), (Fraction(5),), True)


def test_what_was_stated_is_kept_but_for_folders(tmp_path: Path) -> None:
    stated = {"expected": (Fraction(1), Fraction(25, 2)), "size": 1.8, "reference": Fraction(3), "rate": Fraction(24)}
    inspection = look_at_all(tmp_path, shot(), **stated, textures=(tmp_path / "maps",))
    saved = plan_from_json(plan_to_json(make_plan(inspection, [])))
    assert saved.stated == Settings(**stated)
    assert plan_from_json(plan_to_json(make_plan(look_at_all(tmp_path, {}), []))).stated == Settings()


@pytest.mark.parametrize(
    "stated",
    [
        "{}",
        "3",
        '{"frames": [2, 1], "size": null, "reference": null, "rate": null}',
        '{"frames": null, "size": -1, "reference": null, "rate": null}',
        '{"frames": null, "size": null, "reference": "x", "rate": null}',
        '{"frames": [1, 1e15], "size": null, "reference": null, "rate": null}',
        '{"frames": null, "size": null, "reference": null, "rate": "1e999999999"}',
    ],
)
def test_statements_that_are_none_make_no_plan(stated: str) -> None:
    with pytest.raises(MeshqcError, match="not a plan"):
        plan_from_json(f'{{"format": 2, "choices": [], "stated": {stated}}}')


def test_a_plan_for_a_sequence_that_is_not_there_is_refused(tmp_path: Path) -> None:
    two = shot() | frames({n: wing(n) for n in range(1, 9)}, "other.")
    inspection = look_at_all(tmp_path, two)
    with pytest.raises(Refusal, match="no sequence named kelp"):
        make_plan(inspection, [Choice("renumber", sequence="kelp.####.obj")])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"format": 3, "choices": []}',
        '{"format": 2, "choices": [{"fix": 3}]}',
        '{"format": 2}',
        "\x00",
        "[" * 100_000,
    ],
)
def test_what_is_no_plan_is_said_to_be_none(text: str) -> None:
    with pytest.raises(MeshqcError, match="plan"):
        plan_from_json(text)


def test_a_plan_of_an_older_format_is_refused_with_the_way_on() -> None:
    with pytest.raises(
        MeshqcError, match=r"format 1, .*this version of meshqc reads only format 2.*meshqc fix FOLDER --save"
    ):
        plan_from_json('{"format": 1, "choices": []}')


def test_a_sequence_name_in_a_plan_cannot_reach_the_terminal(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot())
    two = [Choice("renumber", sequence="\x1b]0;x\x07kelp"), Choice("renumber", sequence="other")]
    with pytest.raises(Refusal, match="no sequence") as refusal:
        make_plan(inspection, two)
    assert str(refusal.value).isprintable()
