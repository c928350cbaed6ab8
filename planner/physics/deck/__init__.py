"""Where surfaces and panels stand, and what sky they see."""
