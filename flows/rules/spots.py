"""A colour alone is no place: two wires may have it, and oil hides it."""

import re

from flows.rules.subject import Subject

COLOUR = re.compile(r"\{(\w+)\.colour\}")


def place_by_colour(subject: Subject) -> None:
    """place-by-colour: a step sends a probe to a colour without pin and view."""
    for name, step in subject.filling.expanded.steps.items():
        for key in ("say", "long"):
            text = getattr(step, key)
            for wire in COLOUR.findall(text):
                if not re.search(rf"\{{\w+\.{wire}(\.short)?\}}", text):
                    what = f"step '{name}' gives a place by its colour alone"
                    fix = f"write {{plug.{wire}}}, which says pin, view and colour"
                    subject.problem(name, key, rule="place-by-colour", what=what, fix=fix)
