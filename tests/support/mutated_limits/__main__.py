"""
Which limits of the core no test holds: each is mutated, down and up, and the tests that reach it are run.

    python -m tests.support.mutated_limits [--only PATTERN] [--processes N] [--json]

`found` says what a limit is and how far it is moved. A mutant survives when every test still passes: then the
limit could be any other number. General mutation tools were looked at and left: mutmut 3 leaves module constants and
defaults of fields as they are, cosmic-ray (from memory) moves every number by one, and neither knows that a limit of
1.02 moves by 0.01 and one of 72 000 s by hours.

Nothing is written to the tree: a mutant lives in a process of its own, whose import of that one module finds the
mutated source. Tests are those of tests/distribution that need no database and take no longer than
`reached.SLOWEST_S`: first those written for thresholds that enter a function which reads the limit, then all that do,
the quickest first, and, before it is called a survivor, all others.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import re
import sys
import time
from collections.abc import Sequence

from tests.support.mutated_limits.found import limits_of
from tests.support.mutated_limits.processes import PACKAGE
from tests.support.mutated_limits.reached import tests_that_reach
from tests.support.mutated_limits.tried import Outcome, mutate


def table(outcomes: Sequence[Outcome]) -> str:
    """Survivors, one a line, under their count."""
    survivors = [each for each in outcomes if not each.held_by]
    lines = [f"{len(outcomes)} mutants of {len(outcomes) // 2} limits, {len(survivors)} survive."]
    lines.extend(
        f"  {each.file}:{each.line}  {each.limit}  {each.value:g} -> {each.mutated_to:g}"
        for each in survivors
    )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """0 when at most one mutant in twenty survives, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.support.mutated_limits",
        description="Mutates each numeric limit of the core, down and up, and names those that no test holds.",
    )
    parser.add_argument("--only", metavar="PATTERN", default="", help="limits whose file:name matches")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument(
        "--json", action="store_true", help="every mutant, one a line, with the test that holds it"
    )
    chosen = parser.parse_args(arguments)
    limits = [
        limit
        for limit in limits_of(PACKAGE)
        if re.search(chosen.only, f"{limit.path.relative_to(PACKAGE)}:{limit.name}")
    ]
    if not limits:
        parser.error(f"no limit matches {chosen.only!r}")
    started = time.perf_counter()
    for library in ("numpy", "hypothesis", "scipy.stats"):
        # Loaded once and inherited, so that no mutant pays for it.
        importlib.import_module(library)
    outcomes: list[Outcome] = []
    for outcome in mutate(limits, tests_that_reach(chosen.processes), chosen.processes):
        outcomes.append(outcome)
        if chosen.json:
            print(json.dumps(vars(outcome)), flush=True)
    if not chosen.json:
        print(f"{table(outcomes)}\n{time.perf_counter() - started:.0f} s")
    return int(20 * sum(not each.held_by for each in outcomes) > len(outcomes))


if __name__ == "__main__":
    sys.exit(main())
