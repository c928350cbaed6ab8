"""``python -m planner VERB ...`` is the same as ``passage-energy VERB ...``."""

import sys

from planner.faces.cli import main

sys.exit(main())
