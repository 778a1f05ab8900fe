"""Give libraries and textures names that every system and reader accepts."""

from __future__ import annotations

import os
import posixpath
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.portability import unportable
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset, TextureAsset, folder_of
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.formats.frame import Frame, LibraryLine
from inspector.names import Name, counted
from inspector.sequence.materials.references import Status

_OTHER = re.compile(r"[^A-Za-z0-9._-]+")


@dataclass(frozen=True, slots=True)
class RenamedLibraries:
    """New names of libraries.

    Attributes:
        lines: New text after the keyword `mtllib`, by old text.
    """

    lines: Mapping[Name, Name]


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[RenamedLibraries]:
    """Find the libraries and textures whose names aren't portable.

    Raises:
        Refusal: All libraries and textures that were found have portable names already.
    """
    lines: dict[Name, Name] = {}
    changed: dict[Name, Name] = {}
    for index in range(len(context.series.facts)):
        uses = context.materials(index)
        for line in context.series.facts[index].libraries:
            own = [use for use in uses.libraries if use.line == line]
            if own and all(use.target.status is Status.FOUND for use in own):
                lines[line.name] = Name(b" ".join(_portable(use.name.raw) for use in own))
                changed |= {use.name: Name(_portable(use.name.raw)) for use in own}
        found = [use.target.first_name(use.map.name) for use in uses.maps if use.target.status is Status.FOUND]
        changed |= {name: Name(_portable(name.raw)) for name in found}
    changed = {old: new for old, new in changed.items() if old != new}
    if not changed:
        raise Refusal("every library and texture that was found already has a portable name")
    return Step(
        FIX.id,
        {},
        all_numbers(context),
        f"rename {counted(len(changed), 'library or texture', 'libraries and textures')}",
        tuple(Change("name", old.display, new.display) for old, new in changed.items()),
        work=RenamedLibraries({old: new for old, new in lines.items() if old != new}),
    )


def _portable(raw: bytes) -> bytes:
    """Return the path with a portable form of each name. The names `.` and `..` are unchanged."""
    if unportable(raw, is_library=True) is None:
        return raw
    parts = [part if part in (b"", b".", b"..") else _portable_part(part) for part in raw.split(b"/")]
    return b"/".join(parts)


def _portable_part(part: bytes) -> bytes:
    """Return the name without accents or trailing dots, and with `_` in place of characters that aren't portable.

    A name that is then still not portable, such as a reserved name, gets a `_` in front.
    """
    text = unicodedata.normalize("NFKD", part.decode("utf-8", "surrogateescape"))
    letters = "".join(sign for sign in text if not unicodedata.combining(sign))
    plain = (_OTHER.sub("_", letters).rstrip(".") or "_").encode("ascii")
    return plain if unportable(plain, is_library=True) is None else b"_" + plain


def edit_frame(frame: Frame, step: Step[RenamedLibraries], _: Fraction) -> Frame:
    """Rename the frame's libraries, including libraries that another fix gave to it."""
    pointed = b"mtllib" in frame.changed
    lines = tuple(
        LibraryLine(step.work.lines.get(line.name, Name(_portable(line.name.raw)) if pointed else line.name), line.line)
        for line in frame.libraries
    )
    return frame if lines == frame.libraries else frame.replace(libraries=lines)


def edit_assets(assets: Assets, _: Step[RenamedLibraries], context: CheckContext) -> Assets:
    """Give every library and texture a portable name.

    Raises:
        Refusal: Two files would get the same path.
    """
    folder = folder_of(context) or "."
    taken: dict[str, object] = {}
    libraries: dict[str, LibraryAsset] = {}
    for place, entry in assets.libraries.items():
        new = _moved(place, folder, folder)
        textures = tuple(
            _renamed(texture, posixpath.dirname(place), posixpath.dirname(new)) for texture in entry.textures
        )
        for where, what in [(new, place), *((one.place, one.target.path) for one in textures if one.place)]:
            if taken.setdefault(where, what) != what:
                raise Refusal(f"two files would get the name {Name.from_path(where)}; rename one of them")
        libraries[new] = replace(entry, textures=textures)
    return replace(assets, libraries=libraries)


def _renamed(texture: TextureAsset, old_folder: str, new_folder: str) -> TextureAsset:
    if texture.place is None:
        return texture
    return replace(texture, place=_moved(texture.place, old_folder or ".", new_folder or "."))


def _moved(place: str, old_folder: str, new_folder: str) -> str:
    """Return the portable path of a file. Its folder `old_folder` becomes `new_folder`, and only the rest of the path
    is made portable."""
    path = os.fsencode(posixpath.relpath(place, old_folder))
    return posixpath.normpath(posixpath.join(new_folder, os.fsdecode(_portable(path))))


FIX = Fix(
    id="portable-names",
    title="Make names portable",
    kind=FixKind.LOSSLESS,
    does="Renames libraries and textures so that their names consist of ASCII letters, digits, `_`, `-` and `.`, and "
    "updates the names in frames and libraries.",
    cost="",
    touches=frozenset({b"mtllib"}),
    claims=frozenset({Claim.FILE_NAMES}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
    edit_assets=edit_assets,
)
