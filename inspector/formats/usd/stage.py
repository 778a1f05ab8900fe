"""Opening a stage: the library where it is installed, and nothing from outside the file's own folder."""

from __future__ import annotations

import importlib
import os
from functools import cache
from pathlib import Path
from typing import Any

from inspector.errors import MeshqcError
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

INSTALL = "OpenUSD needs the extra `usd`: in the clone of meshqc, pip install '.[usd]'"


def need_library() -> None:
    """Raises MeshqcError that says what to install, where usd-core is missing or can't be loaded."""
    try:
        importlib.import_module("pxr.Usd")
    except ImportError as error:
        raise MeshqcError(INSTALL) from error


def open_stage(path: Path) -> Any:
    """The stage (Usd.Stage) in a file. Raises MeshqcError without the library, UnreadableFrame for a file that can't be
    read, or that draws on a layer outside its own folder: such a layer is not opened."""
    need_library()
    from pxr import Sdf, Tf, Usd

    _keep_quiet()
    try:
        layer = Sdf.Layer.FindOrOpen(str(path))
        if layer is None:
            raise UnreadableFrame("foreign")
        layer.Reload()  # the library keeps layers; the file may be another by now
        held = _refuse_outside(layer, Path(os.path.realpath(path.parent)))
        stage = Usd.Stage.Open(layer)
        if not {one.identifier for one in stage.GetUsedLayers() if not one.anonymous} <= held.keys():
            raise UnreadableFrame("part-outside", reason="another layer than was looked into")
        return stage
    except Tf.ErrorException as error:
        first = str(error).strip().splitlines()[-1:]
        raise UnreadableFrame("broken-form", reason=" ".join(first)) from error


@cache
def _keep_quiet() -> Any:
    """Take the library's warnings off stderr, for the rest of the process.

    They quote file names and prim paths as they are, and an escape sequence in one would reach the terminal. What
    matters in them is an error as well, which the library raises.
    """
    from pxr import UsdUtils

    return UsdUtils.CoalescingDiagnosticDelegate()


def _refuse_outside(root: Any, folder: Path) -> dict[str, Any]:
    """Follow what layers name (sublayers, references, payloads, clips) as long as it lies in the folder; raise at the
    first that doesn't. A layer is looked into before the stage would open what it names.

    Returns the layers by identifier: while they are held, the library opens none of them again. It opens files by
    itself, by path, so a place is judged once more when its layer is there.
    """
    from pxr import Ar, Sdf

    seen, pending = {root.identifier: root}, [root]
    while pending:
        layer = pending.pop()
        for asset in _named_layers(layer):
            where = layer.ComputeAbsolutePath(asset)
            outer, _ = Ar.SplitPackageRelativePathOuter(where) if Ar.IsPackageRelativePath(where) else (where, "")
            target = Path(os.path.realpath(outer))
            if not target.is_relative_to(folder):
                raise UnreadableFrame("part-outside", reason=f"{asset} leads out of the file's folder")
            if not target.is_file():
                raise UnreadableFrame("part-outside", reason=f"{asset} is not there")
            if where not in seen:
                below = Sdf.Layer.FindOrOpen(where)
                if os.path.realpath(outer) != os.fspath(target):
                    raise UnreadableFrame("part-outside", reason=f"{asset} became another file")
                seen[where] = below
                if below is not None:
                    seen[below.identifier] = below
                    pending.append(below)
    return seen


def _named_layers(layer: Any) -> list[str]:
    """Asset paths of the layers that this one names."""
    named = [path for path in layer.GetCompositionAssetDependencies() if path]

    def look(path: Any) -> None:
        spec = layer.GetPrimAtPath(path) if path.IsPrimPath() else None
        if spec is not None and spec.HasInfo("clips"):
            raise UnreadableFrame("not-supported", reason=f"value clips, at {Name(str(path).encode())}")

    layer.Traverse("/", look)
    return named
