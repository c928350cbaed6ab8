"""The one flow: from the inputs of a passage to its plan; it reads nothing and shows nothing."""
