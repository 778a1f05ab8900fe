"""Make all frames refer to one material library."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.context import CheckContext
from inspector.checks.base.libraries import fitting_libraries, library_files, named
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.assets import (
    Assets,
    LibraryAsset,
    TextureAsset,
    assets_of,
    folder_of,
    free_path,
    output_path_of,
    read_entry,
    rewritten,
)
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers, indices_of
from inspector.fixes.base.parameters import answers, typed
from inspector.formats.frame import Frame, LibraryLine
from inspector.formats.wavefront.library import Library, merge_libraries, read_library
from inspector.limits import PLACES_KEPT
from inspector.names import Name, safe
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.materials.references import Status


@dataclass(frozen=True)
class Candidate:
    """A library that the fix can choose for the frames.

    Attributes:
        path: Path of the file.
        library: Content of the file.
        written: Name by which a frame correctly refers to the file; None if no frame does, or if the file is outside
            the inspected folder.
        frames: Number of frames that refer to the file.
    """

    path: Path
    library: Library
    written: Name | None
    frames: int


@dataclass(frozen=True)
class SharedLibrary:
    """The library that all frames get.

    Attributes:
        name: Name of the library in the frames.
        place: Path of the library in the delivered folder.
        entry: The library and its textures.
        touched: Indices of the frames that the fix changes.
    """

    name: Name
    place: str
    entry: LibraryAsset
    touched: frozenset[int]


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[SharedLibrary]:
    """Choose one library that defines all materials, or merge several libraries.

    Raises:
        Refusal: No library to which the frames refer was found, and the frames' folder doesn't contain exactly one
            library that defines all materials; the libraries that were found are not suitable (see
            `_refuse_unsuitable`); a material is not defined in any library; definitions contradict each other; the path
            that the user gave doesn't lead to a library that can be read; the path of a texture can't be written in the
            merged library; or the frames already refer only to the chosen library.
    """
    facts = context.series.facts
    indices = [
        index
        for index in indices_of(context, all_numbers(context) if frames is None else frames)
        if facts[index].filled
    ]
    needed = tuple(dict.fromkeys(name for index in indices for name in facts[index].materials))
    chosen = _chosen(context, needed, parameters)
    name, place, entry = _placed(context, chosen)
    source = output_path_of(chosen[0].path, context)
    moved = len(chosen) > 1 or place != source
    renamed = [index for index in indices if [line.name for line in facts[index].libraries] != [name]]
    touched = indices if moved else renamed
    if not touched:
        raise Refusal(f"{name} is already the only library that these frames refer to")
    numbers = context.numbers(touched)
    if renamed:
        before = ", ".join(line.name.display for line in facts[renamed[0]].libraries)
        summary, change = f"point {numbers_text(numbers)} to {name}", Change("mtllib", before, name.display)
    else:  # the library was in another folder
        summary, change = (
            f"put {name} where {numbers_text(numbers)} refer to it",
            Change(name.display, str(source), place),
        )
    return Step(
        FIX.id,
        {"libraries": [context.resolver.scope.relative(one.path).text for one in chosen]},
        numbers,
        summary + (f", merged from {len(chosen)} libraries" if len(chosen) > 1 else ""),
        (change,),
        work=SharedLibrary(name, place, entry, frozenset(touched)),
    )


def _candidates(context: CheckContext) -> list[Candidate]:
    """Return the libraries to which the frames refer.

    A library is left out if it is inside a frame file, was not found, was found in several places, or can't be read.
    Libraries to which at least one frame refers correctly come before other libraries. Within each of these two groups,
    libraries to which more frames refer come first.
    """
    found: dict[Path, Candidate] = {}
    for index in range(len(context.series.facts)):
        uses = {use.target.path: use for use in reversed(context.materials(index).libraries)}  # each library once
        for path, use in uses.items():
            library = use.library
            if path is None or library is None or use.target.rivals or use.inside:
                continue
            in_place = use.target.status is Status.FOUND and output_path_of(path, context) is not None
            old = found.get(path)
            written = (old.written if old else None) or (use.name if in_place else None)
            found[path] = Candidate(path, library, written, old.frames + 1 if old else 1)
    return sorted(found.values(), key=lambda one: (one.written is None, -one.frames))


def _chosen(context: CheckContext, needed: Sequence[Name], parameters: Parameters) -> list[Candidate]:
    """Choose one library that defines all needed materials or, if there is none, all libraries that were found.

    Raises:
        Refusal: No library to which the frames refer was found, and the frames' folder doesn't contain exactly one
            library that defines all needed materials; the libraries that were found are not suitable (see
            `_refuse_unsuitable`); a material is not defined in any library; equally suitable libraries define a
            material in different ways; or the path that the user gave doesn't lead to a library that can be read.
    """
    candidates = _candidates(context)
    if "library" in parameters:
        candidates = [_stated(context, candidates, str(parameters["library"]))]
    elif not candidates:
        _refuse_unsuitable(context, needed)
        candidates = [_unnamed(context, needed)]
    whole = [one for one in candidates if set(needed) <= set(one.library.materials)]
    if whole:
        best = whole[0]
        rank = (best.written is None, best.frames)
        equals = [one for one in whole if (one.written is None, one.frames) == rank]
        other = next((one for one in equals if _differ(best, one, needed)), None)
        if other is not None:
            first, second, *names = (context.resolver.scope.relative(one.path) for one in (best, other, *equals))
            raise Refusal(
                f"{first} and {second} define a material in different ways; choose a library with "
                f"{typed(FIX.id, 'library=FILE')}",
                answers(FIX.id, *(f"library={name.text}" for name in names)),
            )
        return [best]
    undefined = [name for name in needed if not any(name in one.library.materials for one in candidates)]
    if undefined:
        only = context.resolver.scope.relative(candidates[0].path)
        which = only if len(candidates) == 1 else "none of the libraries that were found"
        raise Refusal(f"{which} {'does not define' if len(candidates) == 1 else 'defines'} {undefined[0]}")
    return candidates


def _stated(context: CheckContext, candidates: Sequence[Candidate], stated: str) -> Candidate:
    """Find the library at the path that the user gave, whether or not a frame refers to it.

    Raises:
        Refusal: There is no such library, or it can't be read.
    """
    relative = context.resolver.scope.relative
    named_so = next((one for one in candidates if relative(one.path).text == stated), None)
    if named_so is not None:
        return named_so
    files = library_files(context)
    path = next((path for path in files if relative(path).text == stated), None)
    if path is None:
        there = named(map(relative, (*(one.path for one in candidates), *files)), PLACES_KEPT)
        raise Refusal(f"there is no library {safe(stated)} in the folder" + (f"; it has {there}" if there else ""))
    library = context.resolver.library(path)
    if library is None:
        raise Refusal(f"{relative(path)} can't be read")
    return Candidate(path, library, None, 0)


def _refuse_unsuitable(context: CheckContext, needed: Sequence[Name]) -> None:
    """Check that the frames need a library, and that every library to which they refer is missing.

    Raises:
        Refusal: No face has a material, or a library to which a frame refers is inside the frame's file, can't be read,
            or was found in several places.
    """
    if not needed:
        raise Refusal("no face has a material")
    relative = context.resolver.scope.relative
    for use in (use for index in range(len(context.series.facts)) for use in context.materials(index).libraries):
        path, rivals = use.target.path, use.target.rivals
        if use.inside:
            raise Refusal("the files of the frames contain their materials")
        if path is not None and rivals:
            names = [relative(one) for one in (path, *rivals)]
            raise Refusal(
                f"{use.name} was found in several places: {named(names, PLACES_KEPT)}; choose a library with "
                f"{typed(FIX.id, 'library=FILE')}",
                answers(FIX.id, *(f"library={name.text}" for name in names[:PLACES_KEPT])),
            )
        if path is not None:
            raise Refusal(f"{relative(path)} can't be read")


def _unnamed(context: CheckContext, needed: Sequence[Name]) -> Candidate:
    """Find the only library that is beside the frames and defines all needed materials.

    This library is used if no library to which the frames refer was found.

    Raises:
        Refusal: There is no such library, or there are several.
    """
    start = (
        "none of the libraries named by the frames was found"
        if any(facts.libraries for facts in context.series.facts)
        else "the frames refer to no library"
    )
    fitting = fitting_libraries(context, needed)
    if not fitting:
        raise Refusal(f"{start}, and no library in the folder defines all materials of the frames")
    beside = [path for path in fitting if path.parent == context.series.sequence.folder.resolve()]
    library = context.resolver.library(beside[0]) if len(beside) == 1 else None
    if library is not None:
        return Candidate(beside[0], library, None, 0)
    names = [context.resolver.scope.relative(path) for path in fitting]
    define = f"{named(names, PLACES_KEPT)} {'defines' if len(names) == 1 else 'define'} all materials of the frames"
    where = "" if beside else f", but {'is' if len(names) == 1 else 'are'} not beside the frames"
    raise Refusal(
        f"{start}; {define}{where}; choose a library with {typed(FIX.id, 'library=FILE')}",
        answers(FIX.id, *(f"library={name.text}" for name in names[:PLACES_KEPT])),
    )


def _differ(a: Candidate, b: Candidate, needed: Sequence[Name]) -> bool:
    return any(a.library.bodies[name] != b.library.bodies[name] for name in needed)


def _placed(context: CheckContext, chosen: Sequence[Candidate]) -> tuple[Name, str, LibraryAsset]:
    """Choose the shared library's name in the frames, its path in the delivered folder, and its content.

    A single chosen library keeps its path if a frame names it correctly. Any other library is put beside the frames.

    Raises:
        Refusal: The libraries contradict each other, or the path of a texture can't be written in a library.
    """
    first = chosen[0]
    kept = first.written if len(chosen) == 1 else None
    here = output_path_of(first.path, context)
    entries = [read_entry(one.path, context) for one in chosen]
    whole = [entry for entry in entries if entry is not None]
    if kept is not None and here is not None:
        return kept, here, whole[0]
    sequence = context.series.sequence
    own_name = first.path.name if len(chosen) == 1 else os.fsdecode(sequence.name.raw) + ".mtl"
    others = {output_path_of(one.path, context): one.path for one in _candidates(context)}
    mine = {one.path for one in chosen} if len(chosen) == 1 else set()
    place = free_path(folder_of(context), own_name, lambda one: one in others and others[one] not in mine)
    entry = whole[0] if len(whole) == 1 else _merged(whole, place)
    return Name(os.fsencode(posixpath.basename(place))), place, entry


def _merged(entries: Sequence[LibraryAsset], place: str) -> LibraryAsset:
    """Merge several libraries into one library at `place`. The maps still lead to the same textures.

    Raises:
        Refusal: The libraries contradict each other, or the path of a texture can't be written in a library.
    """
    libraries = [read_library(rewritten(entry, place)) for entry in entries]
    try:
        merged = read_library(merge_libraries(libraries))
    except MeshqcError as conflict:
        raise Refusal(str(conflict)) from conflict
    textures: dict[Name, list[TextureAsset]] = {}
    for entry, library in zip(entries, libraries, strict=True):
        own: dict[Name, list[TextureAsset]] = {}
        for line, texture in zip(library.maps, entry.textures, strict=True):
            own.setdefault(line.material, []).append(texture)
        textures = own | textures  # if several libraries define a material, the first definition is kept, as in merging
    remaining = {name: iter(group) for name, group in textures.items()}
    sources = tuple(source for entry in entries for source in entry.sources)
    return LibraryAsset(merged, sources, tuple(next(remaining[line.material]) for line in merged.maps))


def edit_frame(frame: Frame, step: Step[SharedLibrary], _: Fraction) -> Frame:
    return frame.replace(libraries=(LibraryLine(step.work.name, 0),))


def edit_assets(assets: Assets, step: Step[SharedLibrary], context: CheckContext) -> Assets:
    """Keep the libraries to which unchanged frames refer, and add the shared library."""
    work = step.work
    others = (index for index in range(len(context.series.facts)) if index not in work.touched)
    still_named = assets_of(context, others).libraries
    kept = {place: entry for place, entry in assets.libraries.items() if place in still_named}
    return Assets(kept | {work.place: kept.get(work.place, work.entry)})


FIX = Fix(
    id="share-library",
    title="Point all frames to one library",
    kind=FixKind.LOSSLESS,
    does="Points all frames to one material library that defines all their materials. This is an existing library or, "
    "if no library defines them all, a new library merged from several.",
    cost="",
    touches=frozenset({b"mtllib"}),
    claims=frozenset({Claim.LIBRARIES}),
    plan=plan,
    parameters={
        "library": (
            "the library to use, as a path inside the folder; default: of the libraries that define all materials, the "
            "library named by the most frames; if no library defines all materials, all named libraries merged; if no "
            "named library was found and exactly one library beside the frames defines all materials, that library"
        )
    },
    edit_frame=edit_frame,
    edit_assets=edit_assets,
)
