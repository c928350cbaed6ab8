"""Compare the string search with summed bishop88 curves over so many random cases, 10,000 if not told."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

PROJECT = Path(__file__).parents[1]
sys.path[:0] = [str(PROJECT), str(PROJECT / "tests" / "external")]

from string_cases import string_cases  # noqa: E402 - the tests' folder is no package
from test_string_reference import ours, theirs  # noqa: E402


def main(count: int) -> None:
    """Print the worst and mean miss, and what each took."""
    cases = list(string_cases(count, seed=7))
    ours(cases[0])
    begun = time.perf_counter()
    fast = np.array([ours(case) for case in cases])
    middle = time.perf_counter()
    full = np.array([theirs(case) for case in cases])
    ended = time.perf_counter()
    strings = np.array([len(case.strings) for case in cases])
    print(f"{count} cases: search {middle - begun:.2f} s, full curves {ended - middle:.1f} s")
    for name, which in (("one string", strings == 1), ("parallel", strings > 1), ("all", strings > 0)):
        miss_w = fast[which] - full[which]
        part = miss_w / np.maximum(full[which], 1.0)
        worst = int(np.argmax(np.abs(part)))
        print(
            f"{name:>10}: {which.sum():5d} cases, worst {part[worst]:+.2e} ({miss_w[worst]:+.4f} W), "
            f"mean {np.abs(part).mean():.1e}, energy {miss_w.sum() / full[which].sum():+.1e}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
