"""What the planner finds: frozen results, which presentation shows."""
