"""Judge textures by the delivery rules: which maps exist, and their size, aspect, content and names."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from inspector import limits
from inspector.checks.base.breach import Breach, Judge
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Where
from inspector.checks.base.helpers import base_facts, count_of, has_whole_uvs
from inspector.checks.base.libraries import Subject, material_states
from inspector.checks.base.textures import BUMP, NORMAL, Texture, normal_maps, textures
from inspector.names import Name, joined_words
from inspector.rules.rule_keys import MAP_KINDS

_SLOTS: Mapping[str, frozenset[bytes]] = {
    "colour": frozenset((b"map_kd",)),
    "normal": NORMAL | BUMP,
    "height": BUMP | {b"disp"},
    "roughness": frozenset((b"map_pr",)),
    "metalness": frozenset((b"map_pm",)),
    "specular": frozenset((b"map_ks",)),
    "emission": frozenset((b"map_ke",)),
    "opacity": frozenset((b"map_d",)),
}
"""Kind of map -> keywords of its statements, in lower case (MTL File Formats 4.2, 1995, and later extensions)."""

assert tuple(_SLOTS) == MAP_KINDS


def _maps(context: CheckContext, wanted: tuple[str, ...]) -> Iterator[Breach]:
    """Judge whether every used material has a map of each required kind, with an image that exists.

    A bump map counts as a normal map if its colours look like normals.
    """
    missing: dict[tuple[Name, str], list[int]] = {}
    for state in material_states(context):
        for material in state.used:
            found = [use for use in state.materials.maps if use.map.material == material and use.place]
            for kind in wanted:
                fitting = [use for use in found if use.map.statement.raw.lower() in _SLOTS[kind]]
                if kind == "normal":
                    images = context.resolver.images
                    fitting = [
                        use
                        for use in fitting
                        if use.map.statement.raw.lower() in NORMAL
                        or (use.place and images.of(use.place).looks_like_normals)
                    ]
                if not fitting:
                    missing.setdefault((material, kind), []).extend(state.indices)
    for kind in wanted:
        names = [material for material, other in missing if other == kind]
        if names:
            indices = sorted({index for name in names for index in missing[name, kind]})
            subject = Subject("material", names)
            yield Breach(f"{subject} {subject:has/have} no {kind} map", indices, len(names))


def _each(words: Callable[[Texture, Any], str | None]) -> Judge:
    """Make a function that judges all textures.

    If textures are at fault, the function yields one breach for all of them. The message describes the first fault and
    states the number of other textures at fault.

    `words` describes the problem with a texture; it returns None if there is no problem.
    """

    def judge(context: CheckContext, wanted: object) -> Iterator[Breach]:
        wrong = [(one, said) for one in measured(context) if (said := words(one, wanted)) is not None]
        if wrong:
            first, said = wrong[0]
            indices = sorted({index for one, _ in wrong for usage in one.usages for index in usage.indices})
            others = len(wrong) - 1
            more = f"; {count_of(others, 'other texture')} {'breaks' if others == 1 else 'break'} the same rule"
            where = tuple(Where(one.file) for one, _ in wrong[: limits.PLACES_KEPT])
            yield Breach(f"texture {first.file} {said}{more if others else ''}", indices, len(wrong), where)

    return judge


def measured(context: CheckContext) -> list[Texture]:
    """Return the textures whose size is known; none if no texture was found."""
    try:
        return [one for one in textures(context) if one.facts.size is not None]
    except NotApplicable:
        return []


def _size_words(texture: Texture) -> str:
    width, height = texture.facts.size or (0, 0)
    return f"has {width:,} x {height:,} pixels"


def _too_large(texture: Texture, most: int) -> str | None:
    return (
        f"{_size_words(texture)}; the maximum is {most:,} per side"
        if max(texture.facts.size or (0, 0)) > most
        else None
    )


def _too_small(texture: Texture, least: int) -> str | None:
    return (
        f"{_size_words(texture)}; the minimum is {least:,} per side"
        if min(texture.facts.size or (0, 0)) < least
        else None
    )


def _odd(texture: Texture, _: object) -> str | None:
    odd = any(side & (side - 1) for side in texture.facts.size or (0, 0))
    return f"{_size_words(texture)}; both sides must be powers of two" if odd else None


def _depth(texture: Texture, allowed: tuple[int, ...]) -> str | None:
    depth = texture.facts.depth
    if not texture.facts.decoded or depth in allowed:
        return None
    return f"has {count_of(depth, 'bit')} per channel instead of {joined_words([str(bits) for bits in allowed], 'or')}"


def _colour_space(texture: Texture, names: tuple[str, ...]) -> str | None:
    """Describe the problem if a file name contains no colour space as a separate word.

    The result is None if the name contains one. `shell_srgb.png` contains one, but `shellsrgb.png` doesn't.
    """
    words = re.split(r"[^0-9a-z]+", texture.path.stem.casefold())
    if any(name.casefold() in words for name in names):
        return None
    return f"has no colour space in its file name, which must contain {joined_words(names, 'or')}"


def _equal_size(context: CheckContext, _: object) -> Iterator[Breach]:
    """Judge whether all maps of a material have the same size. A map of a single colour may have any size."""
    sizes: dict[Name, dict[tuple[int, int], list[Texture]]] = {}
    for texture in measured(context):
        if not texture.facts.one_colour and texture.facts.size is not None:
            for usage in texture.usages:
                alike = sizes.setdefault(usage.map.map.material, {}).setdefault(texture.facts.size, [])
                alike.append(texture)
    odd = {material: by_size for material, by_size in sizes.items() if len(by_size) > 1}
    if odd:
        material, by_size = next(iter(odd.items()))
        chosen = [one for found in odd.values() for alike in found.values() for one in alike]
        indices = sorted({index for one in chosen for usage in one.usages for index in usage.indices})
        listed = ", ".join(f"{alike[0].file} {width:,} x {height:,}" for (width, height), alike in by_size.items())
        where = tuple(Where(file) for file in dict.fromkeys(one.file for one in chosen))[: limits.PLACES_KEPT]
        yield Breach(f"maps of material {material} have different sizes: {listed} pixels", indices, len(odd), where)


def _aspect(context: CheckContext, most: float) -> Iterator[Breach]:
    """Judge whether each map has about the aspect ratio that its material's surface requires in the reference frame.

    Maps of a single colour are left out. Nothing is judged if the reference frame doesn't have complete UVs, or if the
    maximum factor in the rules is below 1.
    """
    if most < 1.0 or not has_whole_uvs(base_facts(context)):
        return
    fits = context.material_fits
    wrong = []
    for texture in measured(context):
        width, height = texture.facts.size or (1, 1)
        for usage in texture.usages:
            fit = fits.get(usage.map.map.material)
            if fit is None or texture.facts.one_colour:
                continue
            squeeze = width / height / fit.aspects[1]
            if max(squeeze, 1.0 / squeeze) > most:
                wrong.append((texture, usage, fit.aspects[1], squeeze))
    if wrong:
        texture, usage, aspect, squeeze = wrong[0]
        width, height = texture.facts.size or (1, 1)
        words = (
            f"texture {texture.file} has an aspect ratio of {width / height:.3f}; the surface with material "
            f"{usage.map.map.material} requires {aspect:.3f}"
        )
        indices = sorted({index for _, one, _, _ in wrong for index in one.indices})
        where = tuple(Where(file) for file in dict.fromkeys(one.file for one, _, _, _ in wrong))[: limits.PLACES_KEPT]
        yield Breach(words, indices, round(squeeze, 3), where)


def _green(context: CheckContext, wanted: str) -> Iterator[Breach]:
    """Judge the direction of green in normal maps. Maps whose relief doesn't show the direction are left out."""
    try:
        other = [one for one in normal_maps(context) if one.facts.green_up is (wanted == "down")]
    except NotApplicable:
        return
    if other:
        found = "down" if wanted == "up" else "up"
        indices = sorted({index for one in other for usage in one.usages for index in usage.indices})
        where = tuple(Where(one.file) for one in other[: limits.PLACES_KEPT])
        words = f"the green channel points {found} in normal map {other[0].file}, but must point {wanted}"
        yield Breach(words, indices, found, where)


TEXTURE_JUDGES: Mapping[str, Judge] = {
    "textures.maps": _maps,
    "textures.most_side": _each(_too_large),
    "textures.least_side": _each(_too_small),
    "textures.power_of_two": _each(_odd),
    "textures.equal_size": _equal_size,
    "textures.aspect_within": _aspect,
    "textures.bits": _each(_depth),
    "textures.normal_green": _green,
    "textures.colour_spaces": _each(_colour_space),
}
"""The functions that judge textures, by key of the delivery rules."""
