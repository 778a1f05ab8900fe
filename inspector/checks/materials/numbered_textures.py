"""Maps that refer to only one texture of a numbered series, or to different textures of it on different frames."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import usable
from inspector.checks.base.libraries import named, spot_finding
from inspector.checks.base.textures import Texture, textures
from inspector.formats.format import Trait
from inspector.names import Name
from inspector.sequence.materials.numbered_textures import number_of, run_of, series_beside, without_number
from inspector.threshold import Threshold

IMAGE_RUN = Threshold(
    "image-run",
    3,
    "Minimum number of consecutively numbered texture files that count as a series. Two files are not enough, because "
    "they may be textures for a left and a right side.",
    unit="files",
)

UV_TILE_NUMBERS = Threshold(
    "uv-tile-numbers",
    (1001, 1999),
    "First and last number in the file names of UV tiles. The tile at the unit square has the number 1001. The number "
    "grows by 1 per tile in u and by 10 per tile in v (common practice, no source).",
)


def run(context: CheckContext) -> Iterator[Finding]:
    found = textures(context)
    by_series: dict[tuple[object, bytes], list[Texture]] = {}
    for texture in found:
        if not texture.inside and number_of(texture.path.name) is not None:
            by_series.setdefault((texture.path.parent, without_number(texture.path.name)), []).append(texture)
    for group in by_series.values():
        judged = _judge(context, group)
        if judged is not None:
            severity, message = judged
            spots = [usage.spot for texture in group for usage in texture.usages]
            yield spot_finding(context, CHECK.id, severity, message, spots, {"named": len(group)})


def _judge(context: CheckContext, group: list[Texture]) -> tuple[Severity, str] | None:
    """Return the severity and the message for one numbered series of textures; None if nothing is wrong."""
    listed = named(texture.file for texture in group)
    if len(group) > 1:
        message = f"a map refers to different textures on different frames: {listed}"
        return (Severity.WARNING, message) if _changes(group) else None
    series = series_beside(group[0].path, context.resolver.scope)
    number = number_of(group[0].path.name)
    run = run_of(set(series), number if number is not None else 0)
    if len(run) < IMAGE_RUN.value:
        return None
    first, last = UV_TILE_NUMBERS.value
    if first <= run[0] and run[-1] <= last and _leaves_unit_square(context):
        return (
            Severity.WARNING,
            f"texture {listed} is one of {len(run):,} numbered UV tiles, but the map refers only to this tile",
        )
    frames = {context.series.facts[index].number for index in usable(context)}
    if len(frames) > 1 and frames <= set(run):
        return (
            Severity.WARNING,
            f"texture {listed} is one of {len(run):,} numbered textures, one per frame, but the map refers only to "
            "this texture",
        )
    return Severity.NOTE, f"texture {listed} is one of {len(run):,} numbered textures"


def _changes(group: list[Texture]) -> bool:
    """Whether a map of one material refers to different textures of a numbered series.

    This is the case, for example, if two libraries define the material differently.
    """
    roles: dict[tuple[Name, bytes], set[Name]] = {}
    for texture in group:
        for usage in texture.usages:
            if usage.map.target.token:  # a pattern for all textures of the series
                continue
            roles.setdefault((usage.map.map.material, usage.keyword), set()).add(texture.file)
    return any(len(files) > 1 for files in roles.values())


def _leaves_unit_square(context: CheckContext) -> bool:
    uvs = context.reference_frame.uvs[:, :2]
    rim = limits.UV_DIFFERENCE.value
    return bool(len(uvs) and ((uvs < -rim).any() or (uvs > 1.0 + rim).any()))


CHECK = Check(
    id="numbered-textures",
    title="Map refers to one texture of a series",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A map refers to one texture of a numbered series, which has one texture per frame or per UV tile. The "
        "format supports neither kind of series, because a map is a single image.",
        after_import="The same texture is shown on all frames, or the texture covers one tile and the other tiles are "
        "blank.",
        what_to_do="Load the whole series by hand after the import, as an image sequence or as tiles.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(IMAGE_RUN, UV_TILE_NUMBERS, limits.UV_DIFFERENCE),
)
