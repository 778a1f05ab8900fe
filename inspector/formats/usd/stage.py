"""Opening a stage with usd-core. Nothing outside the allowed folders is read."""

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
"""Pattern of the line and column in usd-core's messages about text that it can't parse."""
_VERSION = re.compile(r"file is (\d+\.\d+\.\d+), software supports (\d+\.\d+\.\d+)")


@dataclass(frozen=True)
class OpenedStage:
    """An open stage, and the objects that belong to it.

    Attributes:
        stage: The Usd.Stage.
        losses: Files that the stage refers to, but that were not opened.
        layers: All layers, by identifier. As long as they are referenced, usd-core doesn't open them again.
    """

    stage: Any
    losses: tuple[LeftOut, ...]
    layers: dict[str, Any]


def need_library() -> None:
    """Check that usd-core can be loaded.

    Raises:
        MeshqcError: usd-core is not installed, or a memory limit leaves so little memory that usd-core could end the
            process.
    """
    _refuse_few_addresses()
    try:
        importlib.import_module("pxr.Usd")
    except ImportError as error:
        raise MeshqcError(INSTALL) from error


_TO_LOAD, _TO_WORK, _PER_PROCESSOR = 1_000_000_000, 200_000_000, 100_000_000
"""Address space, in bytes, that usd-core needs. If usd-core is already loaded, it needs `_TO_WORK`. Otherwise, loading
usd-core and writing a small delivery takes `_TO_LOAD` plus `_PER_PROCESSOR` for each processor. If usd-core runs out of
memory, it ends the process.

Measured with usd-core 26.11 and 2 processors: 550 MB to load usd-core, 1,110 MB in all.
"""


def _refuse_few_addresses() -> None:
    """Check, on Linux only, that the memory limit (`ulimit -v`) leaves enough address space for usd-core.

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
    """Open the stage in a file. Layers that are missing, unreadable or outside the allowed folders are left out.

    Args:
        path: Path of the file.
        allowed: Folders that may be read, with all links resolved.

    Raises:
        MeshqcError: usd-core is not installed, or a memory limit leaves too little memory for it.
        UnreadableFrame: The file can't be read, or needs a feature that is not supported.
    """
    need_library()
    from pxr import Sdf, Tf, Usd

    _keep_quiet()
    try:
        layer = Sdf.Layer.FindOrOpen(str(path))
        if layer is None:
            raise UnreadableFrame("foreign")
        layer.Reload()  # usd-core keeps layers, but the file may have changed
        following = _Following(allowed)
        following.follow(layer)
        stage = Usd.Stage.Open(layer)
        if not {one.identifier for one in stage.GetUsedLayers() if not one.anonymous} <= following.layers.keys():
            raise UnreadableFrame("part-outside", reason="the stage uses a layer that was not checked")
        return OpenedStage(stage, tuple(following.losses), following.layers)
    except Tf.ErrorException as error:
        newer = _VERSION.search(str(error))
        if newer:
            reason = f"the binary form has version {newer[1]}, but only versions up to {newer[2]} are supported"
            raise UnreadableFrame("not-supported", reason=reason) from error
        raise UnreadableFrame("broken-form", reason=_in_words(str(error))) from error


def _in_words(said: str) -> str:
    """Convert an error message of usd-core to words for users, without locations in the source code of usd-core."""
    place = _PLACE.search(said)
    if place:
        return f"line {place[1]} can't be parsed"
    return "OpenUSD can't read the file"


@cache
def _keep_quiet() -> Any:
    """Suppress usd-core's warnings on stderr for the rest of the process, because names in them are not escaped.
    Important warnings are also raised as errors.
    """
    from pxr import UsdUtils

    return UsdUtils.CoalescingDiagnosticDelegate()


class _Following:
    """Opens the layers that other layers refer to: sublayers, references and payloads. Value clips are not supported.

    Each layer is inspected before the files that it refers to are opened. References to files that must not or can't be
    opened are removed in memory. usd-core opens files by path, so each path is checked again after its layer is open.

    Attributes:
        layers: The opened layers, by identifier.
        losses: Files that were referred to, but not opened.
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
        """Open a layer that another layer refers to.

        Returns:
            The Sdf.Layer; None if it is left out.

        Raises:
            UnreadableFrame: The file was replaced while it was being opened.
        """
        from pxr import Ar, Sdf, Tf

        where = layer.ComputeAbsolutePath(asset)
        packed = Ar.IsPackageRelativePath(where)
        outer = Ar.SplitPackageRelativePathOuter(where)[0] if packed else where
        # usd-core searches for a name that doesn't begin with a dot. If the search fails, the name is unchanged.
        target = Path(os.path.realpath(Path(layer.realPath or ".").parent / outer))
        if not any(target.is_relative_to(folder) for folder in self._allowed):
            reason = (
                f"{safe(asset)} is outside the folder of the scene file (to read it, allow its folder with --allow)"
            )
            return self._left_out(reason)
        if not target.is_file():
            return self._left_out(f"{safe(asset)} is missing")
        try:
            below = self.layers.get(where) or Sdf.Layer.FindOrOpen(where)
        except Tf.ErrorException:
            below = None
        if os.path.realpath(outer) != os.fspath(target):
            raise UnreadableFrame(
                "part-outside", reason=f"{asset} was replaced by another file while it was being opened"
            )
        return below if below is not None else self._left_out(f"{safe(asset)} is not a layer that OpenUSD can read")

    def _left_out(self, why: str) -> None:
        loss = LeftOut(f"a file that the scene refers to: {why}", seen=True)
        if loss not in self.losses:
            self.losses.append(loss)


def _take_out(layer: Any, asset: str) -> None:
    """Remove all references to a file from a layer. The removal is repeated, because usd-core 26.11 removes only one of
    several equal sublayers at a time.

    Raises:
        UnreadableFrame: The layer still refers to the file after `_MOST_PLACES` attempts.
    """
    for _ in range(_MOST_PLACES):
        layer.UpdateCompositionAssetDependency(asset, "")
        if asset not in layer.GetCompositionAssetDependencies():
            return
    raise UnreadableFrame("part-outside", reason=f"the reference to {Name(asset.encode())} can't be removed")


_MOST_PLACES = 1000


def _named_layers(layer: Any) -> list[str]:
    """Return the asset paths of the layers that a layer refers to.

    Raises:
        UnreadableFrame: The layer has value clips, which are not supported.
    """
    named = [path for path in layer.GetCompositionAssetDependencies() if path]

    def look(path: Any) -> None:
        spec = layer.GetPrimAtPath(path) if path.IsPrimPath() else None
        if spec is not None and spec.HasInfo("clips"):
            raise UnreadableFrame("not-supported", reason=f"value clips at {Name(str(path).encode())}")

    layer.Traverse("/", look)
    return named
