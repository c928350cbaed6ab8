"""A crew's logs to one dataset."""
