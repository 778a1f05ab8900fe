"""Run `meshqc unpack`: write the frames of a scene file to OUT, or list the file's content if OUT isn't given."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice
from math import floor
from pathlib import Path

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.sizes import unit_factor
from inspector.cli.command import Arguments, UsageError
from inspector.cli.commands.unpack import UnpackOptions
from inspector.cli.exit_codes import FOUND, say
from inspector.cli.quoting import quoted
from inspector.cli.reporting import page_destination, print_verdict
from inspector.cli.streams import ProgressLine
from inspector.delivery.destination import new_place
from inspector.delivery.handoff import left_out_lines
from inspector.delivery.unpack import UnpackRequest, sequences_of, unpack
from inspector.errors import MeshqcError, Refusal
from inspector.formats.animation import Animation, Opening, SceneMesh, Take
from inspector.formats.mesh import LeftOut
from inspector.names import Name, amount, counted, safe
from inspector.report.command_options import quoted_word
from inspector.report.document import Json, head, json_text
from inspector.sequence.discovery.animations import open_animation, summary
from inspector.sequence.discovery.settings import Settings, frame_json, frame_text
from inspector.units import METRES

_LARGE = 50.0
"""Greatest plausible length of an object in metres: a fully grown kelp is up to 45 m long (common practice, no source).
If the longest side is longer than this many scene units, the unit is more likely to be the centimetre.
"""
_RATE_SOURCES = {
    "file": "as stated in the file",
    "samples": "from the sample times",
    "stated": "as stated with --fps",
    "unknown": "assumed, because the file states no rate; state it with --fps",
}


def unpack_file(arguments: Arguments[UnpackOptions]) -> int:
    """Write the frames of the file, or list its content.

    Returns:
        The exit code of `check` for the written frames, but at least 1 if damaged frames were left out; 0 for a list.

    Raises:
        UsageError: The options contradict each other, or an option is missing.
        Refusal: The new folder already exists, or the size of the object suggests a wrong unit.
        MeshqcError: The file can't be read, or the folder can't be written.
    """
    options, path = arguments.options, arguments.folder
    if not path.is_file():
        what = "this is a folder; name an animation file" if path.is_dir() else "no such file"
        raise MeshqcError(f"{Name.from_path(path)}: {what}")
    if options.scale_to is not None and options.unit is not None:
        raise UsageError("--scale-to and --unit both set the size of the object; leave one out")
    page = page_destination(arguments)
    if options.output is not None:
        new_place(options.output)
    animation = open_animation(path, Opening(options.fps, tuple(options.allow), options.instances))
    z_up = (options.from_up or animation.up) == "z" and not options.keep_axis
    take = Take(tuple(options.mesh), options.uv_set, options.blend, z_up=z_up)
    if options.output is None and options.format == "json":
        sys.stdout.write(json_text(_document(path, animation, take)))
        return 0
    chosen = _chosen(animation, options)
    sequences_of(animation, UnpackRequest(chosen, take, options.split), path.stem)
    _refuse_unknown_uvs(animation, take)
    box = animation.box(chosen[0], take) if options.output is None else _box(animation, chosen, take)
    take = _scaled(animation, take, box, options)
    lines = [*_about(path.name, animation, take, options), *_size_lines(animation, take, box, options)]
    if shift := _shift(chosen, options):
        lines.append(f"frame {frame_text(chosen[0])} becomes frame {frame_text(chosen[0] + shift)}, and so on")
    if options.output is None and options.size is not None and (found := _mix_up(animation, take, box, options)):
        lines.append(f"{found[0]}; to correct the size, add {found[1]}")
    talk = sys.stdout if options.output is None else sys.stderr
    talk.write("".join(f"{line}\n" for line in lines))
    if options.output is None:
        sys.stdout.write("".join(f"{line}\n" for line in _list(animation, arguments, chosen)))
        return 0
    _refuse_size(animation, take, box, arguments)
    settings = Settings(rate=animation.rate if animation.rate_source != "unknown" else None, size=options.size)
    notes = list(animation.notes)
    if animation.sub_frames and not options.sub_frames:
        notes.append(
            LeftOut(f"samples between whole frames ({len(animation.sub_frames):,}); --sub-frames includes them")
        )
    wanted = UnpackRequest(chosen, take, options.split, _shift(chosen, options), settings, tuple(lines), tuple(notes))
    with ProgressLine() as line:
        result = unpack(
            path, animation, wanted, options.output, lambda done, of: line.show(f"unpacking: {done:,} of {of:,}")
        )
    talk.write(f"written to {Name.from_path(options.output)}\n")
    known = {note.what for note in animation.notes}
    new = {one: count for one, count in result.left_out.items() if one.what not in known}
    for text in islice(left_out_lines(new), 20):
        say(text)
    for number, why in list(result.damaged.items())[:20]:
        say(f"frame {frame_text(number)} was left out: {why}")
    code = print_verdict(result.after, replace(arguments, folder=options.output, settings=settings), page)
    return max(code, FOUND) if result.damaged else code


def _refuse_unknown_uvs(animation: Animation, take: Take) -> None:
    known = {name: None for mesh in animation.meshes if take.takes(mesh.path) for name in mesh.uv_sets}
    if take.uv_set is not None and take.uv_set not in known:
        others = f"choose one of: {', '.join(map(safe, known))}" if known else "the meshes have no named UV sets"
        raise MeshqcError(f"no mesh has a UV set named {safe(take.uv_set)}; {others}")


def _about(name: str, animation: Animation, take: Take, options: UnpackOptions) -> Iterator[str]:
    """Yield lines about the content of the file, and about how its frames are scaled and rotated."""
    rate = f"{frame_text(animation.rate)} fps ({_RATE_SOURCES[animation.rate_source]})"
    yield f"{safe(name)}: {summary(animation)}, {rate}"
    if animation.sub_frames:
        taken = "included" if options.sub_frames else "left out unless you add --sub-frames"
        yield f"{counted(len(animation.sub_frames), 'sub-frame')}: {taken}"
    if options.unit is not None:
        unit = f"1 {options.from_unit}" if options.from_unit else f"{animation.metres or 1:g} m"
        yield (
            f"1 unit in the file is {unit}; frames are scaled by {take.scale:g}, so that 1 unit in the frames is 1 "
            f"{options.unit}"
        )
    elif options.scale_to is not None:
        yield f"frames are scaled by {take.scale:.9g}, so that the longest side is {options.scale_to:g}"
    elif animation.metres is not None:
        yield f"1 unit is {animation.metres:g} m"
    up = options.from_up or animation.up
    if up == "z":
        yield "z is up in the file: " + (
            "the frames are not rotated" if options.keep_axis else "all frames are rotated so that y is up"
        )
    elif up is None:
        yield "the file states no up axis: y is assumed; if z is up, add --from-up z"
    names = list(dict.fromkeys(mesh.uv_sets[:1] for mesh in animation.meshes if take.takes(mesh.path) and mesh.uv_sets))
    several = any(len(mesh.uv_sets) > 1 for mesh in animation.meshes if take.takes(mesh.path))
    if options.uv_set is not None:
        yield f"UV set: {safe(options.uv_set)}"
    elif several:
        main = ", ".join(safe(first[0]) for first in names)
        which = "the main UV set" if len(names) == 1 else "the main UV sets of the meshes"
        yield f"UV set: {main} ({which}); choose another with --uv-set NAME"
    yield from (f"{'warning' if note.seen else 'note'}: left out: {note.what}" for note in animation.notes)


def _size_lines(animation: Animation, take: Take, box: Floats | None, options: UnpackOptions) -> Iterator[str]:
    """Yield lines of text that state the size of the object and, if no unit is known, the likely unit."""
    if box is None:
        yield "no mesh is visible in the first frame"
        return
    sides = (box[1] - box[0]) * take.scale
    size = " x ".join(f"{side:.4g}" for side in sides.tolist())
    yield f"size of the first frame: about {size} units"
    if animation.metres is None and options.unit is None and options.scale_to is None:
        longest = float(sides.max())
        likely = "centimetres" if _too_large(longest) else "metres"
        sizes = f"{longest:.4g} m long if the unit is metres, {longest / 100:.4g} m if it is centimetres"
        yield f"the file states no unit: the object is {sizes}"
        yield f"the unit is probably {likely}; state it with --from-unit"


def _too_large(longest: float) -> bool:
    return longest > _LARGE


def _refuse_size(animation: Animation, take: Take, box: Floats | None, arguments: Arguments[UnpackOptions]) -> None:
    """Check the size of the object.

    Raises:
        Refusal: The object's unit is probably wrong. The message contains the command that corrects the object's size.
    """
    options = arguments.options
    found = _mix_up(animation, take, box, options)
    if found is not None:
        cause, right = found
        given = "".join(f" {word}" for word in _words(arguments))
        command = f"meshqc unpack{given} {right}"
        alternative = (
            "" if options.size is not None else f"\nIf the size is correct: meshqc unpack{given} --from-unit m"
        )
        raise Refusal(f"nothing was written: {cause}.\nTo correct the size: {command}{alternative}")


def _mix_up(animation: Animation, take: Take, box: Floats | None, options: UnpackOptions) -> tuple[str, str] | None:
    """Return the reason why the object's unit is probably wrong, and the options that correct the object's size.

    The result is None if the size is plausible.
    """
    longest = 0.0 if box is None else float(((box[1] - box[0]) * take.scale).max())
    factor = unit_factor(longest / options.size) if options.size is not None and longest > 0 else None
    if options.size is not None and factor is not None:
        long = amount(longest, "unit")
        cause = f"the object is {long} long, but the stated size is {options.size:g}; the unit is probably wrong"
        return cause, _UNITS.get(round(factor, 6), f"--scale-to {options.size:g}")
    stated = options.size or options.unit or options.scale_to or options.from_unit
    if animation.metres is None and stated is None and _too_large(longest):
        long = amount(longest, "unit")
        cause = f"the object is {long} long, probably because centimetres in the file were read as metres"
        return cause, "--from-unit cm --unit m"
    return None


_UNITS = {
    100.0: "--from-unit cm --unit m",
    1000.0: "--from-unit mm --unit m",
    0.01: "--from-unit m --unit cm",
    0.001: "--from-unit m --unit mm",
    10.0: "--from-unit mm --unit cm",
    0.1: "--from-unit cm --unit mm",
}
"""Factor by which an object is too large -> the options that correct its size."""


def _words(arguments: Arguments[UnpackOptions]) -> Iterator[str]:
    """Yield the operands and options of the command, quoted for a shell.

    Options that have their default values or change the size of the object are left out.
    """
    options = arguments.options
    yield quoted(arguments.folder)
    if options.output is not None:
        yield quoted(options.output)
    yield from (f"--mesh={quoted_word(pattern)}" for pattern in options.mesh)
    stated = {
        "--frames": None if options.frames is None else "-".join(map(frame_text, options.frames)),
        "--step": None if options.step == 1 else options.step,
        "--start": options.start,
        "--fps": options.fps,
        "--from-up": options.from_up,
        "--size": None if options.size is None else f"{options.size:g}",
        "--format": None if options.format == "text" else options.format,
        "--report": None if options.report is None else quoted(options.report),
        "--fail-on": None if options.fail_on == "error" else options.fail_on,
    }
    yield from (f"{name} {value}" for name, value in stated.items() if value is not None)
    if options.uv_set is not None:
        yield f"--uv-set={quoted_word(options.uv_set)}"
    for flag in ("split", "sub_frames", "blend", "instances", "keep_axis"):
        if vars(options)[flag]:
            yield f"--{flag.replace('_', '-')}"
    yield from (f"--allow {quoted(folder)}" for folder in options.allow)


def _scaled(animation: Animation, take: Take, box: Floats | None, options: UnpackOptions) -> Take:
    """Return `take` with the scale that `--unit` or `--scale-to` requires; without these options, `take` itself.

    Raises:
        UsageError: `--unit` is given, but neither the file nor `--from-unit` states the unit of the file.
        MeshqcError: `--scale-to` is given, but the first frame has no size.
    """
    if options.unit is not None:
        if options.from_unit is None and animation.metres is None:
            raise UsageError("the file states no unit; state the unit with --from-unit")
        metres = METRES[options.from_unit] if options.from_unit else Fraction(repr(animation.metres))
        return replace(take, scale=float(metres / METRES[options.unit]))
    if options.scale_to is not None:
        longest = 0.0 if box is None else float((box[1] - box[0]).max())
        if longest == 0:
            raise MeshqcError("the first frame has zero size, so the sequence can't be scaled")
        return replace(take, scale=options.scale_to / longest)
    return take


def _box(animation: Animation, chosen: tuple[Fraction, ...], take: Take) -> Floats | None:
    """Return the bounding box (2, 3) of the first frame that has points, or None if no frame has points.

    The bounding box in the file isn't used, because it may be wrong.
    """
    for number in chosen:
        try:
            positions = animation.mesh(number, take).positions
        except MeshqcError:
            continue
        if len(positions):
            return np.array([positions.min(axis=0), positions.max(axis=0)], np.float64)
    return None


def _chosen(animation: Animation, options: UnpackOptions) -> tuple[Fraction, ...]:
    """Choose the frame numbers to unpack, according to `--frames`, `--step` and `--sub-frames`.

    Raises:
        MeshqcError: The file has none of the requested frames, or a frame number in a file name would be negative.
    """

    def inside(number: Fraction) -> bool:
        return options.frames is None or options.frames[0] <= number <= options.frames[1]

    chosen = list(filter(inside, animation.frames))[:: options.step]
    if options.sub_frames:  # also samples before the first whole frame and after the last: the shutter is open there
        chosen = sorted({*filter(inside, animation.sub_frames), *chosen})
    if not chosen:
        more = (
            "; all its samples are between whole frames: state --fps, or add --sub-frames"
            if animation.sub_frames and not animation.frames and not options.sub_frames
            else ""
        )
        raise MeshqcError(f"none of the requested frames is in the file ({summary(animation)}){more}")
    if options.output is not None and chosen[0] + _shift(chosen, options) < 0:
        raise MeshqcError(
            f"a file name can't contain a negative frame number, and the first frame is {frame_text(chosen[0])}; "
            "renumber the frames with --start, or use --frames to choose only frames numbered 0 or higher"
        )
    return tuple(chosen)


def _shift(chosen: Sequence[Fraction], options: UnpackOptions) -> Fraction:
    """Return the number to add to every frame number; 0 without `--start`.

    With `--start`, the first whole frame number becomes the given number. If no frame number is whole, the first frame
    number, rounded down, becomes the given number.
    """
    if options.start is None:
        return Fraction(0)
    return options.start - next((number for number in chosen if number.denominator == 1), Fraction(floor(chosen[0])))


def _list(animation: Animation, arguments: Arguments[UnpackOptions], chosen: Sequence[Fraction]) -> Iterator[str]:
    """Yield a line for each mesh, and then a line with the command that writes the frames with the given options.

    The command renumbers the frames if a file name would otherwise contain a negative frame number.
    """
    for mesh in animation.meshes:
        yield "  " + "; ".join([safe(mesh.path), *_facts(mesh)])
    path, *given = _words(arguments)
    sizes = [("--from-unit", arguments.options.from_unit), ("--unit", arguments.options.unit)]
    given += [f"{name} {value}" for name, value in sizes if value is not None]
    if arguments.options.scale_to is not None:
        given.append(f"--scale-to {arguments.options.scale_to:g}")
    if chosen[0] + _shift(chosen, arguments.options) < 0:
        given.append("--start 1")
    yield " ".join(["to write the frames: meshqc unpack", path, "OUT", *given])


def _facts(mesh: SceneMesh) -> Iterator[str]:
    if mesh.kind != "mesh":
        yield "subdivision cage"
    if mesh.faces is not None:
        yield counted(mesh.faces, "face")
    if mesh.motion:
        yield mesh.motion
    if mesh.materials:
        yield f"{'material' if len(mesh.materials) == 1 else 'materials'} {', '.join(map(safe, mesh.materials))}"
    if mesh.uv_sets:
        yield f"{'UV set' if len(mesh.uv_sets) == 1 else 'UV sets'} {', '.join(map(safe, mesh.uv_sets))}"
    if mesh.hidden:
        yield "hidden"


def _document(path: Path, animation: Animation, take: Take) -> Json:
    box = animation.box(animation.frames[0], take) if animation.frames else None
    return {
        **head(),
        "file": Name.from_path(path).text,
        "frames": [frame_json(number) for number in animation.frames],
        "sub_frames": [frame_json(number) for number in animation.sub_frames],
        "rate": {"frames_per_second": float(animation.rate), "source": animation.rate_source},
        "metres_per_unit": animation.metres,
        "up": animation.up,
        "box": None if box is None else box.tolist(),
        "meshes": [
            {
                "path": mesh.path,
                "kind": mesh.kind,
                "faces": mesh.faces,
                "motion": mesh.motion,
                "materials": list(mesh.materials),
                "uv_sets": list(mesh.uv_sets),
                "hidden": mesh.hidden,
            }
            for mesh in animation.meshes
        ],
        "notes": [note.what for note in animation.notes],
        "left_out": [{"what": note.what, "seen": note.seen} for note in animation.notes],
    }
