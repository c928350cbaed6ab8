"""Write the tables of yields that made logs are read out of: ``python tests/reference/make_yields.py [BOAT ...]``.

About twenty minutes a boat on one core; nothing here runs in the tests.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import made_yield
import numpy as np
from made_passage import BOATS, write_passage
from model_chain import Chain

from planner.app.inputs import read_inputs


def main() -> None:
    for boat in sys.argv[1:] or BOATS:
        began = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            inputs = read_inputs(write_passage(Path(folder), boat))
        chain = Chain(inputs.passage, inputs.boat, inputs.route, inputs.forecast)
        arrays = made_yield.make(chain, boat)
        path = made_yield.path_of(boat)
        path.parent.mkdir(exist_ok=True)
        np.savez_compressed(path, **arrays)
        print(f"{path.name}: {path.stat().st_size / 1e6:.2f} MB, {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
