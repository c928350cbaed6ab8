"""Pages of HTML."""
