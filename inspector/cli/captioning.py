"""Run `meshqc captions`: read the caption versions, draw them on the geometry, judge them, and write their textures."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from inspector.cli.command import Arguments
from inspector.cli.commands.captions import CaptionsOptions
from inspector.cli.exit_codes import say
from inspector.cli.requests import one_series, requested, staged
from inspector.cli.streams import style_of
from inspector.delivery.destination import place_for
from inspector.delivery.output_file import write_folder
from inspector.errors import MeshqcError, Refusal
from inspector.lettering.box_from import box_from
from inspector.lettering.caption_file import FILE_NAME, Version, find_captions, read_captions
from inspector.lettering.caption_versions import CaptionCase, caption_cases
from inspector.lettering.sequence_fit import fit_sequence
from inspector.names import Name, safe
from inspector.picture.png import texture_png
from inspector.report.captions_document import captions_document
from inspector.report.captions_text import box_text, boxes_text, captions_text
from inspector.report.document import json_text
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle


def caption(arguments: Arguments[CaptionsOptions]) -> int:
    """Draw and judge the caption versions, print the result, and write their textures if `--output` is given.

    Returns:
        Exit code 0; 1 if `--fail-on unreadable` is given and a version doesn't fit or is unreadable.

    Raises:
        MeshqcError: The captions file is missing or contains a mistake, a chosen sequence or version doesn't exist, or
            a file can't be read or written.
        Refusal: `--output` is given, but either a version doesn't fit or the output folder already exists. Nothing is
            written.
    """
    options, scope = arguments.options, arguments.scope
    place = None if options.output is None else place_for(options.output, scope.roots)
    series = one_series(arguments)
    wanted = requested(arguments)
    artwork = None if options.box_from is None else box_from(*options.box_from)
    if artwork is not None:
        (left, top, right, bottom), (width, height) = artwork
        wanted = replace(
            wanted, rectangle=Rectangle(left / width, 1 - bottom / height, right / width, 1 - top / height)
        )
    file = _file(options.captions, series, arguments)
    versions = () if file is None else _chosen(read_captions(file, scope), options.version)
    resolver = MaterialResolver(scope)
    with staged(series) as stage:
        fit = fit_sequence(series, wanted, stage)
        cases = caption_cases(fit, versions, resolver.of_frame(series.reference_facts), scope, stage)
    written = [] if place is None or options.output is None else _write(place, options.output, cases)
    name = None if file is None else scope.relative(file)
    if options.json:
        root = Name.from_path(arguments.folder)
        sys.stdout.write(json_text(captions_document(root, fit, name, cases, written)))
    else:
        style = style_of(sys.stdout, options.color)
        if artwork is not None:
            sys.stdout.write(box_text(fit, *artwork, style))
        sys.stdout.write(captions_text(fit, name, cases, style) if cases else boxes_text(fit, style))
        sys.stdout.writelines(f"{path}\n" for path in written)
    failed = options.fail_on == "unreadable" and any(case.unreadable for case in cases)
    return 1 if failed else 0


def _file(stated: Path | None, series: Series, arguments: Arguments[CaptionsOptions]) -> Path | None:
    """Find the captions file, with all links resolved; None if there is none.

    Raises:
        MeshqcError: There is no captions file, but the options need one.
    """
    if stated is not None:
        return stated.resolve()
    scope: Scope = arguments.scope
    found = find_captions((series.sequence.folder, arguments.folder), scope)
    options = arguments.options
    if found is None and (options.output or options.version or options.fail_on != "never"):
        raise MeshqcError(f"there is no {FILE_NAME} beside the frames; create it, or name another file with --captions")
    return found


def _chosen(versions: tuple[Version, ...], names: list[str] | None) -> tuple[Version, ...]:
    there = [version.name for version in versions]
    for name in names or []:
        if name not in there:
            raise MeshqcError(f"--version: no version is named {safe(name)}; choose one of: {', '.join(there)}")
    return tuple(version for version in versions if names is None or version.name in names)


def _write(place: Path, named: Path, cases: tuple[CaptionCase, ...]) -> list[str]:
    """Write one texture per version into a new folder, and return the paths of the textures, for display.

    If any texture can't be written, no folder is created.

    Raises:
        Refusal: A version doesn't fit.
        OSError: The textures can't be written.
    """
    unfit = [f"{case.version.name}: {case.refusal}" for case in cases if case.lettered is None]
    if unfit:
        raise Refusal(f"nothing was written: {'; '.join(unfit)}")
    files = {}
    lines = []
    for case in cases:
        assert case.lettered is not None
        file = f"{case.version.name}.png"
        files[file] = texture_png(case.lettered.rendered.pixels, case.base.profile if case.base else b"")
        lines.append(f"{Name.from_path(named / file)}")
    for name, lost in dict.fromkeys((case.base.name, one) for case in cases if case.base for one in case.base.lost):
        say(f"note: {name}: {lost}")
    write_folder(place, files)
    return lines
