"""Plant defects in sequences from outside the project, one at a time, and count how many are reported correctly.

Run it by hand: `MESHQC_REAL=FOLDER python -m tests.real.defects [NAME ...]`. The run takes many minutes. NAMEs are the
folders to judge; by default, all folders are judged. No file is written.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor

from tests.helpers.causes import CAUSES
from tests.helpers.mutations import MUTATIONS, Mutation
from tests.helpers.real import VARIABLE, RealSequence, real_folder, real_sequences
from tests.helpers.real_bodies import long_enough, real_body
from tests.helpers.verdicts import healthy_checks, verdict_on
from tests.matrix.table import Cell, Judged, print_by, print_said

SEED = 1


def judged(sequence: RealSequence, mutations: Iterable[Mutation] = MUTATIONS) -> Iterator[Judged]:
    """Plant each defect that fits the sequence, and yield how well it was reported.

    A defect is left out if a check that would report it already has a finding.
    """
    body = real_body(sequence)
    for mutation in mutations:
        answers = frozenset[str]().union(*(CAUSES[cause] for cause in mutation.causes))
        if mutation.fits(body) and not answers & healthy_checks(body, SEED):
            yield Judged(Cell("defects", mutation.name, body.name, SEED), *verdict_on(mutation, body, SEED))


def _all_of(sequence: RealSequence) -> list[Judged]:
    return list(judged(sequence))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.real.defects", description=__doc__)
    parser.add_argument("folders", nargs="*", metavar="NAME", help="only these folders")
    parser.add_argument("--jobs", type=int, default=2, help="processes (default: 2)")
    options = parser.parse_args()
    if real_folder() is None:
        raise SystemExit(f"{VARIABLE} doesn't name a folder with real sequences")
    fit = [
        one
        for one in real_sequences()
        if long_enough(one) and (not options.folders or one.folder.name in options.folders)
    ]
    every: list[Judged] = []
    with ProcessPoolExecutor(options.jobs) as pool:
        for some in pool.map(_all_of, fit):
            print_said(some)
            every += some
    for name in sorted({one.cell.body for one in every}):
        print(f"\n{name}: missed = {sorted(one.cell.kind for one in every if one.cell.body == name and not one.right)}")
    print_by("defects by kind", every, "kind", (mutation.name for mutation in MUTATIONS))
    print_by("defects by sequence", every, "body", sorted({one.cell.body for one in every}))


if __name__ == "__main__":
    main()
