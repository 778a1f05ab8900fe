"""Build the native core with AddressSanitizer and UndefinedBehaviorSanitizer, and fuzz it.

Run by hand:

    python -m tests.native.sanitize [--cases 1000000] [--checked 20000] [--frames 5000] [--scenes 1000] [--seed N]

The run needs gcc or clang with both sanitizers. The run ends with a report and exit code 1 at the first out-of-bounds
access, signed overflow or misaligned access. The run has four stages: mutated buffers; cases whose results are compared
with those of plain Python; complete frames; and complete scenes.
"""

from __future__ import annotations

import argparse
import importlib.machinery
import importlib.util
import os
import random
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path

import inspector

SOURCES = Path(inspector.__file__).parent / "_native"
FLAGS = ("-O1", "-g", "-fno-omit-frame-pointer", "-ffp-contract=off", "-Wall", "-Wextra", "-Werror")
SANITIZERS = ("-fsanitize=address,undefined", "-fno-sanitize-recover=all")
MODULE = "MESHQC_SANITIZED_MODULE"


def build(compiler: str, target: Path) -> None:
    include = f"-I{sysconfig.get_paths()['include']}"
    sources = sorted(map(str, SOURCES.glob("*.c")))
    command = [compiler, "-shared", "-fPIC", *FLAGS, *SANITIZERS, include, *sources, "-o", str(target), "-lm"]
    subprocess.run(command, check=True)


def fuzz(module: Path, options: argparse.Namespace) -> None:
    """Fuzz the native core. The process must have loaded the sanitizer's runtime."""
    name = "inspector._native._core"
    spec = importlib.util.spec_from_loader(name, importlib.machinery.ExtensionFileLoader(name, str(module)))
    assert spec is not None
    loaded = importlib.util.module_from_spec(spec)
    assert spec.loader is not None
    spec.loader.exec_module(loaded)  # before `_native` is imported, which reads its INTERFACE
    sys.modules[name] = loaded
    from inspector import _native
    from tests.helpers.fuzz import cases as frames
    from tests.helpers.fuzz import scenes
    from tests.helpers.fuzz.by_hand import run_cases
    from tests.helpers.native import fuzz as native

    assert _native.active
    assert Path(_native.core.__file__) == module
    print(f"{native.run_mutations(options.cases, options.seed):,} mutated buffers held", flush=True)
    lines = native.run_cases(options.checked, options.seed)
    print(f"{options.checked:,} cases held against plain Python, {lines:,} lines read", flush=True)
    read = frames.run_cases(options.frames, options.seed)
    print(f"{options.frames:,} frames held, {read:,} of them read", flush=True)
    failed, _ = run_cases(scenes.run_case, 0, options.scenes, options.seed)
    assert not failed
    print(f"{options.scenes:,} scenes held")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=1_000_000)
    parser.add_argument("--checked", type=int, default=20_000)
    parser.add_argument("--frames", type=int, default=5_000)
    parser.add_argument("--scenes", type=int, default=1_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    parser.add_argument("--compiler", default="gcc")
    options = parser.parse_args()
    if MODULE in os.environ:
        fuzz(Path(os.environ[MODULE]), options)
        return
    with tempfile.TemporaryDirectory() as folder:
        module = Path(folder) / "_core.abi3.so"
        build(options.compiler, module)
        runtime = subprocess.run(
            [options.compiler, "-print-file-name=libasan.so"], check=True, capture_output=True, text=True
        ).stdout.strip()
        print(f"seed {options.seed}", flush=True)
        environment = {
            **os.environ,
            MODULE: str(module),
            "LD_PRELOAD": runtime,
            "PYTHONMALLOC": "malloc",  # each object gets its own memory, which the sanitizer watches
            "ASAN_OPTIONS": "detect_leaks=0",  # Python keeps memory until the process ends
        }
        counts = ("cases", "checked", "frames", "scenes", "seed")
        arguments = [word for name in counts for word in (f"--{name}", str(getattr(options, name)))]
        run = subprocess.run([sys.executable, "-m", "tests.native.sanitize", *arguments], env=environment, check=False)
        sys.exit(run.returncode)


if __name__ == "__main__":
    main()
