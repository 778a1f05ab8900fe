"""Frames without UVs."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_uv
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files, these_have, usable, usable_where
from inspector.checks.base.libraries import material_states
from inspector.formats.format import Trait
from inspector.formats.wavefront.library import Library
from inspector.sequence.materials.image_cache import ENDINGS
from inspector.sequence.materials.resolver import FrameMaterials


def run(context: CheckContext) -> Iterator[Finding]:
    with_faces = usable_where(context, lambda facts: facts.faces > 0)
    if not with_faces:
        raise NotApplicable("there are no faces")
    bare = [index for index in with_faces if _bare(context, index)]
    if not bare:
        return
    everywhere = context.series.reference_index in bare  # the reference frame has no UVs for other frames
    unused = context.series.facts[bare[0]].uvs
    extent = "no frame has" if len(bare) == len(usable(context)) else f"{these_have(bare)} no"
    message = f"{extent} UVs" if not unused else (f"the file lists {count_of(unused, 'UV')}, but no face uses UVs")
    yield Finding(
        CHECK.id,
        Severity.ERROR if _uvs_are_needed(context, everywhere) else Severity.NOTE,
        message,
        context.numbers(bare),
        files(context, bare),
        {"frames": len(bare), "unused": unused},
        CHECK.fixes[1:] if everywhere else CHECK.fixes,
    )


def _uvs_are_needed(context: CheckContext, everywhere: bool) -> bool:
    """Whether anything in the folder or the settings requires UVs.

    The result is True if `everywhere` is false, because the reference frame has UVs in that case. It is also True if
    UVs are required by other frames, their files, materials or libraries, by nearby files, by the settings or by the
    rules.
    """
    series, rule = context.series, context.settings.rules.checks.get(CHECK.id)
    return (
        not everywhere
        or context.settings.uvs_from is not None
        or any(facts.uvs or facts.images for facts in series.facts)
        or any(_may_have_maps(state.materials) for state in material_states(context))
        or bool(context.settings.textures)
        or (rule is not None and rule.severity == "error")
        or _texture_beside(context)
    )


def _texture_beside(context: CheckContext) -> bool:
    """Whether the frames' folder or a subfolder contains an image, or a library that may have maps."""
    folder = context.series.sequence.folder.resolve()
    beside = [path for path in context.resolver.scope.ending_in({*ENDINGS, ".mtl"}) if folder in path.parents[:2]]
    return any(path.suffix.lower() != ".mtl" or _has_maps(context.resolver.library(path)) for path in beside)


def _may_have_maps(materials: FrameMaterials) -> bool:
    return bool(materials.undefined) or any(_has_maps(use.library) for use in materials.libraries)


def _has_maps(library: Library | None) -> bool:
    """Whether a library has maps or can't be read."""
    return library is None or bool(library.maps)


def _bare(context: CheckContext, index: int) -> bool:
    facts = context.series.facts[index]
    return facts.faces_without_uvs == facts.faces and facts.problem("vt-index-range") is None


CHECK = Check(
    id="no-uvs",
    title="No UVs",
    severity=Severity.ERROR,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="No face has UVs (texture coordinates). If the reference frame has no UVs either, "
        "and no map, texture or rule needs them, the finding is only a note.",
        after_import="The surface shows a single colour, or no texture at all.",
        what_to_do="Switch on UVs in the export settings. If the static model still has UVs and its faces are the "
        "same, take the UVs from its file (--uvs-from).",
    ),
    run=run,
    fixes=("uv-restore", "uv-donor", "uv-nearest", "uv-grid", "uv-planar"),
    affected_faces=without_uv,
)
