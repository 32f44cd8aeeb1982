"""Prove the measurement on the whole grid of simulated runners: all single cells, 64 mixed ones.

    python tests/proofs/grid.py [--mixed 64] [--seconds 15] [--jobs J]

Prints one JSON line: how many cells miss bounds, and which. Exits 1 where a contact was missed or
invented.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections import Counter

from station.bench.cells import mixed_cells, single_cells
from station.bench.work import cell_jobs, run_all


def main() -> int:
    """Run all cells and print the JSON line."""
    ask = argparse.ArgumentParser(description="The whole grid of simulated runners.")
    ask.add_argument("--mixed", type=int, default=64, help="mixed cells (default 64)")
    ask.add_argument("--seconds", type=float, default=15.0, help="of each (default 15)")
    ask.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes at once")
    given = ask.parse_args()
    jobs = cell_jobs([*single_cells(), *mixed_cells(given.mixed)], given.seconds)
    results = {}
    for place, result in run_all(jobs, given.jobs):
        results[place] = result
        told = "; ".join(map(str, result.misses)) or "keeps all bounds"
        print(f"{len(results)} of {len(jobs)}: {result.name}: {told}", file=sys.stderr, flush=True)
    in_order = [results[place] for place in range(len(jobs))]
    missed = sum(r.score.missed for r in in_order)
    invented = sum(r.score.invented for r in in_order)
    print(
        json.dumps(
            {
                "proof": "grid",
                "holds": missed == 0 and invented == 0,
                "cells": len(in_order),
                "contacts": sum(r.score.contacts for r in in_order),
                "missed": missed,
                "invented": invented,
                "wrong_side": sum(r.score.wrong_side for r in in_order),
                "cells_with_misses": sum(bool(r.misses) for r in in_order),
                "by_bound": dict(Counter(m.bound for r in in_order for m in r.misses)),
                "misses": {r.name: [str(m) for m in r.misses] for r in in_order if r.misses},
            }
        )
    )
    return 1 if missed or invented else 0


if __name__ == "__main__":
    sys.exit(main())
