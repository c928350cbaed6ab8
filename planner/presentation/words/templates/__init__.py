"""The sentences of notes by their codes, with places for the figures."""
