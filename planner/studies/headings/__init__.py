"""Other headings and the other tack."""
