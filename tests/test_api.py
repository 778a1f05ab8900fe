"""Tests of the public Python functions, and of the examples in the manual."""

from __future__ import annotations

import doctest
import json
import re
import shutil
import subprocess
import sys
from inspect import signature
from pathlib import Path

import numpy as np
import pytest

import inspector
from inspector import api, deliver, inspect, plan, read_frame
from inspector.cli.manual_pages import page
from inspector.errors import MeshqcError, Refusal
from tests.helpers.command import digests, environment


def manual_example() -> str:
    text = page("python")
    block = re.search(r"(?m)^    from inspector import .*\n(?:(?:    .*)?\n)*", text)
    assert block is not None
    return re.sub(r"(?m)^    ", "", block[0])


def test_the_example_of_the_manual_runs(demo: Path, tmp_path: Path) -> None:
    shutil.copytree(demo, tmp_path / "harbour")
    run = subprocess.run(
        [sys.executable, "-c", manual_example()],
        cwd=tmp_path,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.stderr == ""
    lines = run.stdout.splitlines()
    assert "error missing-frames 3" in lines
    assert "error scale-suspect 12" in lines
    assert lines[-2].startswith("left: [")
    assert "missing-frames" not in lines[-2]
    high = re.fullmatch(r"positions: \(250, 3\) highest: (\S+)", lines[-1])
    assert high is not None
    assert 1.7 < float(high[1]) < 1.9  # the stated size


def test_importing_the_package_imports_nothing_heavy() -> None:
    code = "import sys, inspector; sys.exit('numpy' in sys.modules or 'textual' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], env=environment(), check=False, timeout=60).returncode == 0
    assert set(inspector.__all__) == {*api.__all__, "__version__"}
    assert all(getattr(inspector, name) is getattr(api, name) for name in api.__all__)
    with pytest.raises(AttributeError, match="no attribute nothing"):
        getattr(inspector, "nothing")  # noqa: B009


@pytest.mark.parametrize("name", api.__all__)
def test_the_examples_of_public_names_run(
    name: str, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "harbour").symlink_to(demo)
    monkeypatch.chdir(tmp_path)
    (example,) = doctest.DocTestFinder(recurse=False).find(getattr(api, name), name, globs=vars(api).copy())
    assert example.examples
    told: list[str] = []
    doctest.DocTestRunner().run(example, out=told.append)
    assert "".join(told) == ""


def test_every_parameter_is_documented() -> None:
    for function in (deliver, inspect, plan, read_frame):
        documented = re.findall(r"(?m)^        (\w+):", function.__doc__ or "")
        assert [*signature(function).parameters] == documented[: len(signature(function).parameters)]


def test_inspect_takes_what_a_command_takes(demo: Path, tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text("[mesh]\ncorners = [3]\n")
    before = digests(demo)
    found = inspect(demo / "manta", frames=(1, 25), reference=2, rules=tmp_path / "house.toml")
    assert {one.check for one in found.inspections[0].findings} == {"missing-frames", "delivery-rules"}
    assert found.inspections[0].series.reference_facts.number == 2
    assert digests(demo) == before
    with pytest.raises(MeshqcError):
        inspect(tmp_path / "gone")


def test_plan_chooses_fixes_as_the_command_does(demo: Path) -> None:
    found = inspect(demo / "kelp_broken", frames=(1, 15), size=1.8)
    exact = {step.fix for step in plan(found).steps}
    every = {step.fix for step in plan(found, all=True).steps}
    assert exact < every
    assert "scale" in every - exact
    (step,) = plan(found, fixes={"scale": {"factor": 0.5}}).steps
    assert (step.fix, step.parameters["factor"]) == ("scale", 0.5)
    with pytest.raises(Refusal):
        plan(found, fixes={"shrink": {}})


def test_deliver_and_read_back(demo: Path, tmp_path: Path) -> None:
    found = inspect(demo / "manta")
    done = deliver(plan(found, fixes={"scale": {"factor": 0.5}}), tmp_path / "half")
    assert done.proof.clean
    whole, half = (read_frame(folder / "manta.0001.obj").positions for folder in (demo / "manta", done.out))
    assert np.abs(half - whole / 2).max() < 1e-6
    with pytest.raises(Refusal):
        deliver(plan(found), tmp_path / "half")
    with pytest.raises(MeshqcError, match=r"gone\.obj"):
        read_frame(tmp_path / "gone.obj")


SCRIPT = """
import sys
from inspector import inspect
print("frames:", len(inspect(sys.argv[1], workers=2).inspections[0].series.facts))
"""
POOLED = """
import multiprocessing, os, sys
from inspector import inspect

def count(folder):
    return len(inspect(folder, workers=2).inspections[0].series.facts)

if __name__ == "__main__":
    for method in ("fork", "spawn"):
        with multiprocessing.get_context(method).Pool(1) as pool:
            print(method, pool.map(count, [sys.argv[1]]), flush=True)
    print("here", count(sys.argv[1]), flush=True)
    if (child := os.fork()) == 0:
        print("forked", count(sys.argv[1]), flush=True)
        os._exit(0)
    os.waitpid(child, 0)
"""


@pytest.mark.parametrize("way", ["file", "standard input"])
def test_a_script_without_a_guard_runs_once(demo: Path, tmp_path: Path, way: str) -> None:
    path = tmp_path / "script.py"
    path.write_text(SCRIPT)
    run = subprocess.run(
        [sys.executable, path if way == "file" else "-", demo / "manta"],
        input=None if way == "file" else SCRIPT,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (run.stdout, run.stderr) == ("frames: 24\n", "")


def test_in_a_pool_s_worker_and_in_a_forked_child_it_works_too(demo: Path, tmp_path: Path) -> None:
    """The workers of a pool are daemonic, and a daemonic process is not allowed to have child processes (CPython
    documentation, multiprocessing.Process.daemon)."""
    path = tmp_path / "pooled.py"
    path.write_text(POOLED)
    command = [sys.executable, "-W", "ignore", path, demo / "manta"]
    run = subprocess.run(command, env=environment(), capture_output=True, text=True, timeout=120, check=False)
    assert run.stdout.splitlines() == ["fork [24]", "spawn [24]", "here 24", "forked 24"]
    assert run.stderr == ""


NOTEBOOK = """
import asyncio, json, os, signal, subprocess, sys, time
from concurrent.futures import ThreadPoolExecutor
from inspector import Refusal, deliver, inspect, plan
from inspector.report.document import folder_document

folder, out = sys.argv[1:]

def verdict(workers=None):
    return json.dumps(folder_document(inspect(folder, workers=workers)), sort_keys=True)

def stopped(*_):
    raise KeyboardInterrupt

def delivered(_):
    try:
        return len(deliver(plan(inspect(folder), fixes={"scale": {"factor": 2}}), out).proof.new)
    except Refusal as error:
        return type(error).__name__

async def cell():
    said = {"first": verdict()}
    with ThreadPoolExecutor(4) as threads:
        said["threads"] = list(threads.map(verdict, [None, None, 2, 2]))
        said["deliveries"] = sorted(map(str, threads.map(delivered, range(2))))
    signal.signal(signal.SIGALRM, stopped)
    signal.setitimer(signal.ITIMER_REAL, 0.05)
    try:
        while True:
            verdict(2)
    except KeyboardInterrupt:
        said["stopped"] = True
    said["again"] = verdict(2)
    end = time.monotonic() + 20
    while time.monotonic() < end:
        left = subprocess.run(["ps", "-s", str(os.getsid(0)), "-o", "args="], capture_output=True, text=True).stdout
        said["workers"] = left.count("spawn_main") + max(left.count("forkserver") - 1, 0)
        if not said["workers"]:
            break
        time.sleep(0.1)
    return said

del __file__
print(json.dumps(asyncio.run(cell())))
"""


def test_in_a_notebook_from_threads_twice_at_once_and_stopped(demo: Path, tmp_path: Path) -> None:
    """A notebook runs cells inside an event loop, with a main module that has no file."""
    path = tmp_path / "cells.py"
    path.write_text(NOTEBOOK)
    run = subprocess.run(
        [sys.executable, path, demo / "kelp_broken", tmp_path / "out"],
        env=environment(),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        start_new_session=True,
    )
    assert run.stderr == ""
    said = json.loads(run.stdout)
    assert said["threads"] == [said["first"]] * 4
    assert said["again"] == said["first"]
    assert said["deliveries"] == ["0", "Refusal"]
    assert (said["stopped"], said["workers"]) == (True, 0)
