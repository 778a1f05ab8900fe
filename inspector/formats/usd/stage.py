"""Opening a stage, if usd-core is installed. Nothing outside the allowed folders is read."""

from __future__ import annotations

import importlib
import os
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from inspector.errors import MeshqcError
from inspector.formats.mesh import LeftOut
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name, safe

INSTALL = "OpenUSD needs the extra `usd`: in the clone of meshqc, run pip install '.[usd]'"

_PLACE = re.compile(r":(\d+):\d+: ")
"""Line and column in usd-core's message about a text that it can't parse."""
_VERSION = re.compile(r"file is (\d+\.\d+\.\d+), software supports (\d+\.\d+\.\d+)")


@dataclass(frozen=True)
class OpenedStage:
    """A stage, and the objects that belong to it.

    Attributes:
        stage: The Usd.Stage.
        losses: Files that the stage names but that were not opened.
        layers: All layers by identifier. While these are referenced, usd-core doesn't open them again.
    """

    stage: Any
    losses: tuple[LeftOut, ...]
    layers: dict[str, Any]


def need_library() -> None:
    """Check that usd-core can be loaded.

    Raises:
        MeshqcError: usd-core can't be loaded (the message states what to install), or a limit leaves it so little
            memory that it could end the process.
    """
    _refuse_few_addresses()
    try:
        importlib.import_module("pxr.Usd")
    except ImportError as error:
        raise MeshqcError(INSTALL) from error


_TO_LOAD, _TO_WORK, _PER_PROCESSOR = 1_000_000_000, 200_000_000, 100_000_000
"""Bytes of address space that usd-core needs: `_TO_LOAD` to be loaded and to write a small delivery, `_TO_WORK` for the
delivery alone, and `_PER_PROCESSOR` for the threads of each processor. With usd-core 26.11 and 2 processors, 1,110 MB
were used, 550 MB of them by loading. If usd-core gets no memory, it ends the process.
"""


def _refuse_few_addresses() -> None:
    """Check that no limit (`ulimit -v`) leaves usd-core too little address space. Only Linux reports the limit.

    Raises:
        MeshqcError: There is too little address space.
    """
    if not sys.platform.startswith("linux"):
        return
    import resource

    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    if limit == resource.RLIM_INFINITY:
        return
    pages = int(Path("/proc/self/statm").read_bytes().split()[0])
    left = limit - pages * resource.getpagesize()
    needed = _TO_WORK if "pxr.Usd" in sys.modules else _TO_LOAD + _PER_PROCESSOR * (os.cpu_count() or 1)
    if left < needed:
        raise MeshqcError(
            f"OpenUSD needs {needed / 1e6:,.0f} MB of address space, but the limit on virtual memory leaves "
            f"only {max(left, 0) / 1e6:,.0f} MB; raise the limit (`ulimit -v`)"
        )


def open_stage(path: Path, allowed: Sequence[Path]) -> OpenedStage:
    """Open the stage in a file, without layers that are missing, unknown, or outside the allowed folders.

    Args:
        path: The file.
        allowed: Folders that may be read, with all links resolved.

    Raises:
        MeshqcError: usd-core is not installed, or a limit leaves it too little memory.
        UnreadableFrame: The file can't be read, or needs something that is not supported.
    """
    need_library()
    from pxr import Sdf, Tf, Usd

    _keep_quiet()
    try:
        layer = Sdf.Layer.FindOrOpen(str(path))
        if layer is None:
            raise UnreadableFrame("foreign")
        layer.Reload()  # the library keeps layers; the file may have changed
        following = _Following(allowed)
        following.follow(layer)
        stage = Usd.Stage.Open(layer)
        if not {one.identifier for one in stage.GetUsedLayers() if not one.anonymous} <= following.layers.keys():
            raise UnreadableFrame("part-outside", reason="the stage uses a layer that was not checked")
        return OpenedStage(stage, tuple(following.losses), following.layers)
    except Tf.ErrorException as error:
        raise UnreadableFrame("broken-form", reason=_in_words(str(error))) from error


def _in_words(said: str) -> str:
    """Convert an error message of usd-core to plain words. The message itself quotes locations in source code."""
    version = _VERSION.search(said)
    if version:
        return f"version {version[1]} of the binary form; versions up to {version[2]} are read"
    place = _PLACE.search(said)
    if place:
        return f"line {place[1]} can't be parsed"
    return "OpenUSD can't read the file"


@cache
def _keep_quiet() -> Any:
    """Suppress usd-core's warnings on stderr for the rest of the process.

    They quote file names and prim paths unescaped, so that an escape sequence in a name would reach the terminal.
    Everything important in them is also raised as an error.
    """
    from pxr import UsdUtils

    return UsdUtils.CoalescingDiagnosticDelegate()


class _Following:
    """Opens the layers that other layers name: sublayers, references and payloads. Value clips are not supported.

    A layer is inspected before the stage opens the files that it names. The names of files that must not or can't be
    opened are removed from the layer in memory. usd-core opens files by path, so a path is checked again after its
    layer is open.

    Attributes:
        layers: The opened layers, by identifier.
        losses: Files that were named but not opened.
    """

    def __init__(self, allowed: Sequence[Path]) -> None:
        self._allowed = allowed
        self.layers: dict[str, Any] = {}
        self.losses: list[LeftOut] = []

    def follow(self, root: Any) -> None:
        self.layers[root.identifier] = root
        pending = [root]
        while pending:
            layer = pending.pop()
            for asset in _named_layers(layer):
                below = self._opened(layer, asset)
                if below is None:
                    _take_out(layer, asset)
                elif below.identifier not in self.layers:
                    self.layers[below.identifier] = below
                    pending.append(below)

    def _opened(self, layer: Any, asset: str) -> Any:
        """Open the layer that another layer names.

        Returns:
            The Sdf.Layer; None if it is left out.

        Raises:
            UnreadableFrame: The file was replaced while it was opened.
        """
        from pxr import Ar, Sdf, Tf

        where = layer.ComputeAbsolutePath(asset)
        packed = Ar.IsPackageRelativePath(where)
        outer = Ar.SplitPackageRelativePathOuter(where)[0] if packed else where
        # A name that doesn't begin with a dot is searched for; if it isn't found, it is returned unchanged.
        target = Path(os.path.realpath(Path(layer.realPath or ".").parent / outer))
        if not any(target.is_relative_to(folder) for folder in self._allowed):
            reason = f"{safe(asset)} is outside the folder of the scene file (to read it, name its folder with --allow)"
            return self._left_out(reason)
        if not target.is_file():
            return self._left_out(f"{safe(asset)} is missing")
        try:
            below = self.layers.get(where) or Sdf.Layer.FindOrOpen(where)
        except Tf.ErrorException:
            below = None
        if os.path.realpath(outer) != os.fspath(target):
            raise UnreadableFrame("part-outside", reason=f"{asset} was replaced by another file while it was opened")
        return below if below is not None else self._left_out(f"{safe(asset)} is not a layer that OpenUSD can read")

    def _left_out(self, why: str) -> None:
        loss = LeftOut(f"a file that the scene names: {why}", seen=True)
        if loss not in self.losses:
            self.losses.append(loss)


def _take_out(layer: Any, asset: str) -> None:
    """Remove the name of a file from a layer.

    If it is among the sublayers, usd-core removes one occurrence at a time (seen in version 26.11).

    Raises:
        UnreadableFrame: The layer still has the name after `_MOST_PLACES` attempts.
    """
    for _ in range(_MOST_PLACES):
        layer.UpdateCompositionAssetDependency(asset, "")
        if asset not in layer.GetCompositionAssetDependencies():
            return
    raise UnreadableFrame("part-outside", reason=f"{Name(asset.encode())} cannot be removed from the layer")


_MOST_PLACES = 1000


def _named_layers(layer: Any) -> list[str]:
    """Asset paths of the layers that a layer names.

    Raises:
        UnreadableFrame: The layer has value clips.
    """
    named = [path for path in layer.GetCompositionAssetDependencies() if path]

    def look(path: Any) -> None:
        spec = layer.GetPrimAtPath(path) if path.IsPrimPath() else None
        if spec is not None and spec.HasInfo("clips"):
            raise UnreadableFrame("not-supported", reason=f"value clips at {Name(str(path).encode())}")

    layer.Traverse("/", look)
    return named
