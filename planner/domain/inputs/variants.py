"""What a comparison varies, as its file or the command line says."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from planner.domain.inputs.fields import Input, InputFile, Name
from planner.domain.inputs.power import Controller, Panel


class Variant(Input):
    """One variant of the passage.

    Attributes
    ----------
    name : str
        As it stands in the table.
    set : dict of str to object
        Dotted keys into passage or boat, and their values; a departure may be given as hours from the base's, '+3h'.
    without_panels : tuple of str
        Panels taken off; what is left empty of their wiring goes with them.
    without_loads : tuple of str
        Loads shed for the whole passage.
    panel, controller : tuple
        Panels and controllers more.
    """

    name: str = Field(min_length=1)
    set: dict[str, Any] = Field(default_factory=dict)
    without_panels: tuple[Name, ...] = ()
    without_loads: tuple[Name, ...] = ()
    panel: tuple[Panel, ...] = ()
    controller: tuple[Controller, ...] = ()


class VariantList(InputFile):
    """A file of variants.

    Attributes
    ----------
    variant : tuple of Variant
        In the file: ``[[variant]]``.
    """

    variant: tuple[Variant, ...] = Field(min_length=1)
