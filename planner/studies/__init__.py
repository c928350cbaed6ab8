"""The same flow run again under other inputs and set side by side."""
