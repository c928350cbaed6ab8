"""The whole boat as its file describes it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from planner.domain.inputs.fields import IN_METRES, Between, Breadth, Finite, InputFile
from planner.domain.inputs.place import Place
from planner.domain.inputs.power import (
    Bank,
    Charger,
    Controller,
    Engine,
    Generator,
    Inverter,
    Load,
    Panel,
    SecondaryBank,
    Soiling,
)
from planner.domain.inputs.rig import Rig
from planner.domain.inputs.sailing import Autopilot, Sailing


class Boat(InputFile):
    """The whole boat.

    Attributes
    ----------
    length_m : float
        Length of the hull [m].
    beam_m : float
        Breadth of the hull, of several together [m].
    rig : Rig
        Spars, sails and deck gear that throw shadows.
    engine : Engine
        Engine and alternator; out of service it does not drive her, whatever ``sailing`` asks.
    sailing : Sailing
        How she is sailed: her speeds, trim, boards, and when the engine drives.
    autopilot : Autopilot
        What holds the course, and what it draws.
    bank : Bank
        The house bank.
    panel : tuple of Panel
        Each panel and its data sheet, in the file ``[[panel]]``.
    controller : tuple of Controller
        Each charge controller and the panels on it, in the file ``[[controller]]``.
    load : tuple of Load
        Each thing that draws power, in the file ``[[load]]``.
    soiling : Soiling
        Dirt and salt on the panels.
    inverter : Inverter, optional
        For loads on alternating current.
    generator : tuple of Generator
        Towed and wind generators, in the file ``[[generator]]``.
    charger : tuple of Charger
        Chargers on shore power or a generating set, in the file ``[[charger]]``.
    secondary_bank : tuple of SecondaryBank
        Banks that the house charges, in the file ``[[secondary_bank]]``.
    place : tuple of Place
        Where another panel could lie.
    """

    length_m: Annotated[Finite, Between(5.0, 60.0, "sailing yachts on passage", IN_METRES)]
    beam_m: Annotated[Breadth, Between(1.0, 30.0, "a 5 m sloop to a 60 m boat of several hulls")]
    rig: Rig
    engine: Engine
    sailing: Sailing
    autopilot: Autopilot
    bank: Bank
    panel: tuple[Panel, ...] = Field(min_length=1)
    controller: tuple[Controller, ...] = Field(min_length=1)
    load: tuple[Load, ...] = ()
    soiling: Soiling = Soiling()
    inverter: Inverter | None = None
    generator: tuple[Generator, ...] = ()
    charger: tuple[Charger, ...] = ()
    secondary_bank: tuple[SecondaryBank, ...] = ()
    place: tuple[Place, ...] = ()

    @field_validator("sailing")
    @classmethod
    def _as_she_is(cls, sailing: Sailing, info: ValidationInfo) -> Sailing:
        engine = info.data.get("engine")
        if engine is None or engine.available:
            return sailing
        return sailing.under_sail_alone()
