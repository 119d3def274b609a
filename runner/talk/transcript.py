"""A readable transcript of a session in the terminal, as it goes."""

from rich.console import Console
from rich.markup import escape

_WHO = {"tool": ("Leadsman", "bold cyan"), "technician": ("Technician", "bold magenta"), "note": ("", "dim")}


class Transcript:
    """Prints who said what; a remark (what the recogniser made of it) follows in dim letters."""

    def __init__(self, console: Console, *, quiet: bool = False) -> None:
        self._console = console
        self._quiet = quiet

    def show(self, who: str, text: str, remark: str = "") -> None:
        """One line. who: tool, technician or note."""
        if self._quiet:
            return
        name, style = _WHO[who]
        tail = f"  [dim]({escape(remark)})[/]" if remark else ""
        self._console.print(f"[{style}]{name:>10}[/]  {escape(text)}{tail}", highlight=False)
