"""Use cases, one a file; the only place that wires readers to the rest."""
