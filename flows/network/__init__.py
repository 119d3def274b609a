"""Electrical networks of described circuits: parts and wires, faults made by rule, nodal analysis of many at once."""
