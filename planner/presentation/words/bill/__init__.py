"""The watch bill in words: its sentences, the card, the schedule on a terminal."""
