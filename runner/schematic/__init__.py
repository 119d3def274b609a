"""Circuits as schematics: drawn from their description, with every probe point an element of its own."""

from runner.schematic.schematic import Schematic, schematic_of

__all__ = ["Schematic", "schematic_of"]
