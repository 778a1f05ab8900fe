"""Give a colour map to materials without one, if an image beside the library has a matching name."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.colour_map_names import unnamed_colour_maps
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset, TextureAsset, output_path_of
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import with_map
from inspector.names import Name
from inspector.sequence.materials.references import Status, Target

Images = Mapping[tuple[Path, Name], Path]
"""The images that become colour maps, by the path of the library and the name of the material."""


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Images]:
    """Find materials that have no colour map, but have exactly one image with a matching name beside their library.

    Returns:
        A step whose `work` contains the image for each material.

    Raises:
        Refusal: There is no such material.
    """
    try:
        found = unnamed_colour_maps(context)
    except NotApplicable:
        found = []
    if not found:
        raise Refusal("no image beside a library has a name that fits a material without a colour map")
    clear = [one for one in found if len(one.images) == 1]
    if not clear:
        raise Refusal(
            "several images could be the colour map of the same material; in the library, name the right image"
        )
    relative = context.resolver.scope.relative
    return Step(
        FIX.id,
        {},
        context.numbers(sorted({index for one in clear for index in one.material.indices})),
        f"name the colour {'map' if len(clear) == 1 else 'maps'} of {count_of(len(clear), 'material')}",
        tuple(Change(one.material.definition.name.display, "", relative(one.images[0]).display) for one in clear),
        work={(one.library, one.material.definition.name): one.images[0] for one in clear},
    )


def edit_assets(assets: Assets, step: Step[Images], context: CheckContext) -> Assets:
    return assets.edited(lambda entry, _: _named(entry, step.work, context))


def _named(entry: LibraryAsset, images: Images, context: CheckContext) -> LibraryAsset:
    for material in dict.fromkeys(entry.library.materials):
        image = next((images[key] for key in ((one, material) for one in entry.sources) if key in images), None)
        place = None if image is None else output_path_of(image, context)
        if image is not None and place is not None:
            entry = with_map(entry, material, b"map_Kd", TextureAsset(Target(Status.FOUND, image), place))
    return entry


FIX = Fix(
    id="name-colour-map",
    title="Name the colour map",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS}),
    does="Makes an image the colour map of a material that has none. The image must be beside the library, and must be "
    "named after the material or after one of its other maps.",
    cost="A line is added to the material. The only evidence that the image belongs to the material is the name of the "
    "image.",
    touches=frozenset(),
    claims=frozenset({Claim.ADDED_MAPS}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
