"""Wind, boards, trim and courses over the earth."""
