"""What the planner talks about: frozen typed inputs and results, names and units, errors."""
