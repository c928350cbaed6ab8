"""How a result shows itself in a session or a notebook: a title and its main figures, no arrays."""

from __future__ import annotations

from abc import ABC, abstractmethod
from html import escape


class Shown(ABC):
    """A result with a short text and a small table for a notebook."""

    @abstractmethod
    def headline(self) -> str:
        """Return one line that says what it is."""

    @abstractmethod
    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return its main figures as pairs of words."""

    def __repr__(self) -> str:
        return "\n".join([self.headline(), *(f"  {name}: {value}" for name, value in self.facts())])

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th scope='row'>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in self.facts()
        )
        return f"<table><caption>{escape(self.headline())}</caption>{rows}</table>"
