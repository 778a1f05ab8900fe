"""Tests of every fix that a check suggests: a sequence is broken, fixed and checked again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import all_checks
from inspector.checks.files.file_size import WASTE_BYTES
from inspector.delivery.choices import Choice, sequence_key
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.wavefront.compose import EMPTY
from inspector.inspection.inspection import Inspection
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken import files as broken_files
from tests.helpers.broken.materials import COUNTED, without_material
from tests.helpers.broken.motion import TIP, aside, circle, drifting, lifted, noisy, scaled, stuck
from tests.helpers.broken.normals import unlit
from tests.helpers.broken.placement import laid_down, placed_at, with_point
from tests.helpers.broken.shape import FLAT, TAIL, backed, corner_repeated, doubled, with_ring
from tests.helpers.broken.text import SECOND, from_zero, mixed, slashes, superseded
from tests.helpers.broken.topology import (
    diagonal_turned,
    grown_on,
    last_first,
    mirrored,
    one_face_less,
    one_vertex_more,
    renumbered,
    torn,
    with_fin,
    wound_back,
)
from tests.helpers.broken.uvs import FOURTH, bare, beyond, in_part, layout_turned, shifted, slid, trembling
from tests.helpers.fixing import blocks, files_of
from tests.helpers.materials import NORMALS, library, library_a_frame, with_library
from tests.helpers.meshes import Mesh, wing, with_faces
from tests.helpers.one_thing import FACE, TEXT, every
from tests.helpers.rules import rules_of
from tests.helpers.sequences import MATERIALS, Files, frames, look_at_all, shot, write
from tests.helpers.shapes import sheet_mesh, wall
from tests.helpers.surfaces import drawn, lit, ring, sequence, with_face
from tests.helpers.uvs import all_laid, moved, unpainted

ALL = range(1, 13)
PLAIN = MATERIALS["manta.mtl"]


@dataclass(frozen=True)
class Case:
    """Files with a finding, and how to fix it.

    `donor` is the content of a mesh file that the fix receives as `from`. `rules` is the text of a rules file.
    """

    files: Files
    parameters: Mapping[str, object] = field(default_factory=dict)
    settings: Mapping[str, object] = field(default_factory=dict)
    donor: bytes | None = None
    rules: str = ""


def fifth(text: bytes) -> Files:
    return shot() | {"manta.0005.obj": text}


def in_fifth(edit: Callable[[Mesh], Mesh]) -> Files:
    return shot({5: edit})


def in_all(edit: Callable[[Mesh], Mesh]) -> Files:
    return shot(dict.fromkeys(ALL, edit))


def renamed(files: Files, old: str, new: str) -> Files:
    return {new if name == old else name: data for name, data in files.items()}


def headed(head: str) -> Callable[[Mesh], Mesh]:
    return lambda mesh: mesh.edit(head=(f"mtllib {head}", "o manta"))


def tailed(number: int) -> Mesh:
    flat = drawn(TAIL, FLAT["on a line"], number)
    return with_face(wing(number), flat)


def doubled_normals(mesh: Mesh) -> Mesh:
    return mesh.edit(normals=mesh.normals * 2)


def no_direction(mesh: Mesh) -> Mesh:
    return mesh.edit(normals=mesh.normals * 0)


def cut_across(mesh: Mesh) -> Mesh:
    a, b, c, d = mesh.faces[6]
    return mesh.edit(faces=(*mesh.faces[:6], (a, b, c), (a, c, d), *mesh.faces[7:]))


def reordered(number: int) -> Mesh:
    swap = {0: 1, 1: 0}
    mesh = last_first(cut_across(wing(number)))
    renumbered = with_faces(mesh, lambda corner: (swap.get(corner[0], corner[0]), *corner[1:]))
    return renumbered.edit(positions=mesh.positions[[1, 0, *range(2, 20)]])


def seven_times(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions * 7)


def upward(number: int) -> Mesh:
    return lit(number).edit(normals=-lit(number).normals)


def with_back(number: int) -> Mesh:
    return backed(wing(number))


def with_double(number: int) -> Mesh:
    return doubled(wing(number))


SUFFIXED = fifth(TEXT.replace(b"usemtl skin", b"usemtl fin"))
TWO_LIBRARIES = shot({5: lambda mesh: headed("other.mtl")(mesh).edit(state=("usemtl fin",))})
BARE = in_all(bare)
LONG_WAY = placed_at(1.5e6)

CASES: dict[tuple[str, str], Case] = {
    ("executable-statements", "drop-executable"): Case(fifth(TEXT + b"call other.obj\n")),
    ("coincident-faces", "drop-duplicate-faces"): Case(sequence(with_back)),
    ("bad-number", "decimal-commas"): Case(fifth(TEXT.replace(b".", b",").replace(b"manta,mtl", b"manta.mtl"))),
    ("bad-number", "fill-frames"): Case(fifth(TEXT.replace(SECOND, b"v nan 0 0"))),
    ("centre-jump", "align-outlier"): Case(in_fifth(aside)),
    ("trailing-comments", "clean-text"): Case(fifth(TEXT.replace(FACE, FACE + b" # left"))),
    ("continued-lines", "clean-text"): Case(fifth(TEXT.replace(FACE, FACE.replace(b" 7", b" \\\n7")))),
    ("capital-statements", "clean-text"): Case(fifth(TEXT.replace(FACE, b"F" + FACE[1:]))),
    ("delivery-rules", "drop-normals"): Case(sequence(lit), rules='[mesh]\nnormals = "forbidden"'),
    ("delivery-rules", "recompute-normals"): Case(shot(), rules='[mesh]\nnormals = "required"'),
    ("delivery-rules", "renumber"): Case(broken_files.renamed(shot()), {"padding": 4}, rules="[frames]\npadding = 4"),
    ("delivery-rules", "scale"): Case(in_all(seven_times), {"size": 4}, rules="[scene]\nsize = 4"),
    ("delivery-rules", "triangulate"): Case(shot(), rules="[mesh]\ncorners = [3]"),
    ("delivery-rules", "up-axis"): Case(
        in_all(broken_files.laid_down), {"to": "y"}, rules='[scene]\nup = "y"\nheight = 0.35'
    ),
    ("duplicate-faces", "drop-duplicate-faces"): Case(sequence(with_double)),
    ("duplicate-materials", "clean-library"): Case(shot() | {"manta.mtl": PLAIN + PLAIN}),
    ("empty-indices", "clean-text"): Case(fifth(slashes(TEXT))),
    ("encoding", "clean-text"): Case(fifth(TEXT.decode().encode("utf-16"))),
    ("empty-frames", "fill-frames"): Case(fifth(EMPTY)),
    ("face-count", "restore-faces"): Case(in_fifth(cut_across)),
    ("face-count", "fill-frames"): Case(in_fifth(one_face_less)),
    ("face-order", "restore-faces"): Case(in_fifth(last_first)),
    ("face-order", "fill-frames"): Case(in_fifth(last_first)),
    ("faces-without-material", "neutral-material"): Case(in_fifth(without_material)),
    ("far-from-origin", "align"): Case(LONG_WAY, {"at": "centre"}),
    ("far-from-origin", "offset"): Case(LONG_WAY, {"x": -1.5e6}),
    ("zero-area-faces", "fill-frames"): Case(sequence(tailed)),
    ("frozen", "fill-frames"): Case(stuck(5)),
    ("index-range", "restore-faces"): Case(fifth(TEXT.replace(FACE, FACE.replace(b"7/5", b"77/5")))),
    ("index-range", "fill-frames"): Case(fifth(TEXT.replace(FACE, FACE.replace(b"7/5", b"77/5")))),
    ("library-missing", "share-library"): Case(in_fifth(headed("old.mtl"))),
    ("library-missing", "neutral-material"): Case(in_all(headed("old.mtl")) | {"manta.mtl": b"newmtl fin\n"}),
    ("library-per-frame", "share-library"): Case(library_a_frame(dict.fromkeys(ALL, library("Kd 1 1 1")))),
    ("library-text", "clean-library"): Case(shot() | {"manta.mtl": b"\xef\xbb\xbf" + PLAIN}),
    ("line-ends", "clean-text"): Case(fifth(mixed(TEXT))),
    ("loop", "trim-loop"): Case(circle(range(17))),
    ("n-gons", "triangulate"): Case(with_ring(256)),
    ("material-numbering", "unify-material-names"): Case(COUNTED),
    ("material-undefined", "share-library"): Case(
        SUFFIXED
        | {"manta.0007.obj": shot({7: headed("all.mtl")})["manta.0007.obj"], "all.mtl": PLAIN + b"newmtl fin\n"}
    ),
    ("material-undefined", "neutral-material"): Case(shot() | {"manta.mtl": PLAIN.replace(b"skin", b"fin", 1)}),
    ("missing-frames", "fill-frames"): Case(shot(numbers=[1, 2, 3, 5, 6])),
    ("missing-normals", "recompute-normals"): Case(sequence(lit, {5: lambda mesh: unlit(mesh, range(4, 7))})),
    ("no-uvs", "uv-restore"): Case(in_fifth(bare)),
    ("no-uvs", "uv-donor"): Case(BARE, donor=wing(1).text()),
    ("no-uvs", "uv-nearest"): Case(BARE, donor=wing(1).text()),
    ("no-uvs", "uv-grid"): Case(frames({n: bare(sheet_mesh(wall(3, 1 + n / 9), 6, 4)) for n in ALL})),
    ("no-uvs", "uv-planar"): Case(unpainted(BARE)),
    ("normal-length", "unit-normals"): Case(sequence(lit, {5: doubled_normals})),
    ("normal-length", "recompute-normals"): Case(sequence(lit, {5: no_direction})),
    ("reversed-normals", "flip-normals"): Case(sequence(upward)),
    ("normal-map", "norm-statement"): Case(with_library("map_Kd skin.png", "map_Bump a.png", a=NORMALS)),
    ("number-forms", "fill-frames"): Case(fifth(TEXT.replace(SECOND, b"v -1.0 0.4 3.5e38"))),
    ("boundary-edges", "fill-frames"): Case(in_fifth(torn)),
    ("changed-faces", "restore-order"): Case({**in_all(cut_across), "manta.0005.obj": reordered(5).text()}),
    ("changed-faces", "restore-faces"): Case(in_fifth(diagonal_turned)),
    ("changed-faces", "fill-frames"): Case(in_fifth(diagonal_turned)),
    ("partial-uvs", "uv-restore"): Case(in_fifth(in_part)),
    ("partial-uvs", "uv-donor"): Case(in_all(in_part), donor=wing(1).text()),
    ("partial-uvs", "uv-nearest"): Case(in_all(in_part), donor=wing(1).text()),
    ("paths-not-portable", "portable-names"): Case(
        with_library("map_Kd what?.png") | {"what?.png": MATERIALS["skin.png"]}
    ),
    ("opacity-unclear", "opacity-statement"): Case(with_library("Tr 1"), parameters={"means": "opacity"}),
    ("colour-map-slot", "colour-map-statement"): Case(with_library("map_Ka skin.png")),
    ("colour-map-unnamed", "name-colour-map"): Case(shot() | {"manta.mtl": library("Kd 1 1 1")}),
    ("normal-map", "colour-map-statement"): Case(with_library("norm skin.png")),
    ("component-count", "fill-frames"): Case(sequence(with_fin, {5: grown_on})),
    ("noisy-frame", "fill-frames"): Case(drifting({7: noisy(0.01)})),
    ("pop", "fill-frames"): Case(in_fifth(lifted(TIP))),
    ("relative-indices", "positive-indices"): Case(fifth(TEXT.replace(FACE, b"f -20/-24 2/2 7/5 6/4"))),
    ("repeated-corners", "drop-degenerate-faces"): Case(every(corner_repeated)),
    ("repeated-frames", "drop-repeated-frames"): Case(shot() | {"manta.5.obj": TEXT}),
    ("shifted-numbers", "renumber"): Case(shot(), settings={"expected": (Fraction(2), Fraction(13))}),
    ("repeated-frames", "renumber"): Case(renamed(shot(), "manta.0005.obj", "manta.5.obj")),
    ("scale-suspect", "scale"): Case(shot(), settings={"size": 400.0}),
    ("degenerate-faces", "drop-degenerate-faces"): Case(every(lambda text: text + b"f 1/1 2/2\n")),
    ("size-jump", "align-outlier"): Case(in_fifth(scaled(3.0))),
    ("file-size", "reduce-decimals"): Case(MATERIALS | frames({n: wing(n).text(20) for n in ALL})),
    ("spike", "fill-frames"): Case(in_fifth(lifted([7]))),
    ("deprecated-statements", "clean-text"): Case(fifth(superseded(TEXT))),
    ("texture-missing", "collect-textures"): Case(with_library("map_Kd C:\\maps\\skin.png")),
    ("texture-missing", "replace-missing-maps"): Case(with_library("map_Kd lost.png"), {"by": "grid"}),
    ("unreadable", "fill-frames"): Case(fifth(b"")),
    ("unused-materials", "drop-unused-materials"): Case(shot() | {"manta.mtl": PLAIN + b"newmtl eye\n"}),
    ("unused-vertices", "drop-unused-vertices"): Case(in_all(with_point)),
    ("up-axis-suspect", "up-axis"): Case(
        shot() | frames({n: laid_down(wing(n + 3)) for n in ALL}, stem="manta_b."), {"to": "y"}
    ),
    ("uv-index-range", "uv-restore"): Case(in_fifth(beyond)),
    ("uv-index-range", "uv-donor"): Case(in_fifth(beyond), donor=wing(1).text()),
    ("uv-mirrored", "uv-mirror"): Case(all_laid(lambda uv: [1, 0] + uv * [-1, 1], first=0)),
    ("uv-mismatch", "uv-shift-back"): Case(in_fifth(shifted)),
    ("uv-mismatch", "uv-restore"): Case(in_fifth(shifted)),
    ("uv-numbers", "uv-restore"): Case(fifth(TEXT.replace(FOURTH, b"vt nan 0.333333"))),
    ("uv-outside", "uv-into-square"): Case(unpainted(all_laid(moved(0.25, 0)))),
    ("uv-swimming", "uv-restore"): Case(trembling(0.01)),
    ("uv-turned", "uv-turn"): Case(layout_turned(90)),
    ("uv-values", "uv-restore"): Case(in_fifth(slid(0.02))),  # type: ignore[arg-type]
    ("vertex-count", "fill-frames"): Case(in_fifth(one_vertex_more)),
    ("vertex-order", "restore-order"): Case(in_fifth(renumbered)),
    ("vertex-order", "fill-frames"): Case(in_fifth(renumbered)),
    ("winding", "flip-winding"): Case(in_fifth(wound_back)),
    ("winding", "fill-frames"): Case(sequence(ring, {5: mirrored})),
    ("zero-based", "positive-indices"): Case(every(from_zero)),
}

OTHER_CAUSES = [
    (("library-missing", "share-library"), Case(in_all(headed("old.mtl")))),
    (("material-undefined", "share-library"), Case(in_all(lambda mesh: mesh.edit(head=("o manta",))))),
    (
        ("material-undefined", "share-library"),
        Case(
            in_all(lambda mesh: mesh.edit(head=("o manta",))) | {"wet.mtl": PLAIN.replace(b"skin.png", b"wet.png")},
            {"library": "manta.mtl"},
        ),
    ),
]
"""More cases, for findings that have several causes."""


def named() -> set[tuple[str, str]]:
    return {(check.id, fix) for check in all_checks() for fix in check.fixes}


def test_every_fix_that_a_check_names_has_a_case_and_no_other() -> None:
    missing, unknown = named() - CASES.keys(), CASES.keys() - named()
    assert not missing, f'add ("check", "fix"): Case(files that the fix repairs) to CASES for {sorted(missing)}'
    assert not unknown, f"no check names the fix of these CASES: {sorted(unknown)}"


def found(inspection: Inspection, check: str, fix: str) -> list[Finding]:
    return [one for one in inspection.findings if one.check == check and fix in one.fixes]


def stated(case: Case, folder: Path) -> dict[str, object]:
    if not case.rules:
        return dict(case.settings)
    settings = Settings().under(rules_of(folder, f'{case.rules}\n[checks]\nscale-suspect = "off"'))
    return {"rules": settings.rules, "expected": settings.expected, "size": settings.size}


def touched(before: bytes, after: bytes) -> set[bytes]:
    ours, theirs = blocks(before), blocks(after)
    return {word for word in ours.keys() | theirs.keys() if ours.get(word) != theirs.get(word)}


@pytest.mark.parametrize(
    ("answer", "case"),
    [*CASES.items(), *OTHER_CAUSES],
    ids=[" by ".join(pair) for pair, _ in (*CASES.items(), *OTHER_CAUSES)],
)
def test_the_finding_goes_and_nothing_comes(
    answer: tuple[str, str], case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    check, fix = answer
    if check == "file-size":  # writing files that are large enough takes too long
        monkeypatch.setattr("inspector.checks.files.file_size.WASTE_BYTES", replace(WASTE_BYTES, value=1000))
    parameters = dict(case.parameters)
    if case.donor is not None:
        parameters["from"] = str(write(tmp_path / "rest", {"rest.obj": case.donor}) / "rest.obj")
    before = look_at_all(tmp_path / "in", case.files, **stated(case, tmp_path))
    inspection = next(one for one in before.inspections if found(one, check, fix))
    aimed = found(inspection, check, fix)
    plan = make_plan(before, [Choice(fix, parameters, sequence_key(inspection))])
    assert plan.steps
    delivery = deliver(plan, tmp_path / "out")
    if fix_by_id(fix).edit_output is None:  # other fixes create or rename frames
        delivered = files_of(tmp_path / "out")
        for name in (name for name in case.files if name.endswith(".obj")):
            assert touched(case.files[name], delivered.get(name, case.files[name])) <= fix_by_id(fix).touches
    stem = inspection.sequence.stem  # because `renumber` changes the pattern
    (after,) = (one for one in delivery.after.inspections if one.sequence.stem == stem)
    assert found(after, check, fix) == []
    if aimed[0].severity > Severity.NOTE:
        assert [one for one in after.findings if one.check == check and one.severity >= aimed[0].severity] == []
    assert (delivery.proof.left, delivery.proof.new, delivery.proof.second) == ((), (), 0)
