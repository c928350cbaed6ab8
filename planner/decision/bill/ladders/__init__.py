"""The ladders as a crew reads them: one watch, the card of all days, what goes on past the planned arrival."""
