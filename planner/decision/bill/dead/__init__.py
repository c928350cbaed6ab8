"""What holds if the engine is dead: from each watch on, and from the first of each day."""
