"""Print tables of the mutation matrix: the defects that are found, and the false alarms.

Run it by hand: `python -m tests.matrix.table [--jobs N]`. The run takes a few minutes. It also prints which results are
worse than those in `not_right_today.toml`. With --write, it then rewrites `not_right_today.toml`.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from tests.helpers.bodies import BODIES, FORMS, REPORT_SEEDS, TUNING_SEEDS
from tests.helpers.mutations import MUTATIONS
from tests.helpers.verdicts import TODAY, Outcome, Said, errors_and_warnings, not_right_today, verdict_on

SEEDS = TUNING_SEEDS + REPORT_SEEDS


@dataclass(frozen=True)
class Cell:
    """A cell of the matrix.

    `table` is "defects" or "healthy". `kind` is the name of the defect, or of the form of the healthy body, such as
    "looped".
    """

    table: str
    kind: str
    body: str
    seed: int


@dataclass(frozen=True)
class Judged:
    cell: Cell
    outcome: Outcome
    said: tuple[Said, ...]

    @property
    def right(self) -> bool:
        return self.outcome is Outcome.FOUND


def cells_of(seed: int, body_index: int) -> list[Judged]:
    body = BODIES[body_index]
    judged = []
    for mutation in MUTATIONS:
        if mutation.fits(body):
            judged.append(Judged(Cell("defects", mutation.name, body.name, seed), *verdict_on(mutation, body, seed)))
    take = body.film(seed, seed)
    for form, made in FORMS.items():
        said = errors_and_warnings(made(take))
        outcome = Outcome.WRONG if said else Outcome.FOUND
        judged.append(Judged(Cell("healthy", form, body.name, seed), outcome, said))
    return judged


def judge_all(jobs: int, seeds: Sequence[int]) -> list[Judged]:
    work = [(seed, index) for seed in seeds for index in range(len(BODIES))]
    with ProcessPoolExecutor(jobs) as pool:
        return [judged for some in pool.map(cells_of, *zip(*work, strict=True)) for judged in some]


def share(judged: Iterable[Judged]) -> str:
    every = list(judged)
    right = sum(one.right for one in every)
    return f"{right:4} of {len(every):4} {right / len(every):4.0%}" if every else " " * 17


def print_by(title: str, judged: Sequence[Judged], key: str, names: Iterable[str]) -> None:
    print(f"\n{title:44} {'tuning':>17} {'report':>17}  not right")
    for name in [*names, ""]:
        own = [one for one in judged if not name or getattr(one.cell, key) == name]
        wrong = Counter(one.outcome.value for one in own if not one.right)
        checks = Counter(check for one in own if not one.right for check in {said.check for said in one.said})
        words = ", ".join(f"{count} {outcome}" for outcome, count in wrong.most_common())
        heard = ", ".join(f"{check} {count}" for check, count in checks.most_common(5))
        tuning = share(one for one in own if one.cell.seed in TUNING_SEEDS)
        report = share(one for one in own if one.cell.seed in REPORT_SEEDS)
        print(f"{name or 'all':44} {tuning} {report}  {words}{f' ({heard})' if heard else ''}".rstrip())


def print_said(judged: Iterable[Judged]) -> None:
    for one in judged:
        if not one.right:
            print(f"\n{one.cell.kind}, {one.cell.body}, seed {one.cell.seed}: {one.outcome.value}", flush=True)
            for said in one.said:
                numbers = ", ".join(f"{number:g}" for number in sorted(said.frames)[:12])
                print(f"    {said.severity} {said.check} [{numbers}] {said.message}", flush=True)


def today_text(judged: Iterable[Judged]) -> str:
    """Return the cells whose result is wrong, as TOML."""
    seeds: dict[tuple[str, str], dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for one in judged:
        if not one.right:
            seeds[one.cell.table, one.cell.kind][one.cell.body].append(one.cell.seed)
    lines = ["# What isn't judged rightly yet. Written by `python -m tests.matrix.table --write`; lines may only go."]
    for (table, kind), bodies in seeds.items():
        lines += ["", f'[{table}."{kind}"]', *(f'"{body}" = {sorted(own)}' for body, own in bodies.items())]
    return "\n".join(lines) + "\n"


def is_known(cell: Cell) -> bool:
    return cell.seed in not_right_today().get(cell.table, {}).get(cell.kind, {}).get(cell.body, [])


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.matrix.table", description=__doc__)
    parser.add_argument("--jobs", type=int, default=2, help="processes (default: 2)")
    parser.add_argument("--seeds", type=int, nargs="+", default=SEEDS, help="only these bodies")
    parser.add_argument("--said", action="store_true", help="print what was said of each cell that isn't right")
    parser.add_argument("--write", action="store_true", help=f"write {TODAY.name}; needs all seeds")
    options = parser.parse_args()
    judged = judge_all(options.jobs, options.seeds)
    defects = [one for one in judged if one.cell.table == "defects"]
    healthy = [one for one in judged if one.cell.table == "healthy"]
    print_by("defects by kind", defects, "kind", (mutation.name for mutation in MUTATIONS))
    print_by("defects by body", defects, "body", (body.name for body in BODIES))
    print_by("healthy forms", healthy, "kind", FORMS)
    print_by("healthy forms by body", healthy, "body", (body.name for body in BODIES))
    if options.said:
        print_said(judged)
    worse = [one.cell for one in judged if not one.right and not is_known(one.cell)] if TODAY.exists() else []
    better = [one.cell for one in judged if one.right and is_known(one.cell)] if TODAY.exists() else []
    print(f"\nagainst {TODAY.name}: {len(better)} better, {len(worse)} worse")
    for cell in worse:
        print(f"worse: {cell.kind}, {cell.body}, seed {cell.seed}")
    if options.write and set(options.seeds) == set(SEEDS):
        TODAY.write_text(today_text(judged))


if __name__ == "__main__":
    main()
