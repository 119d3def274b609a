"""What can go wrong in the runner, each with a sentence that says what was seen, what was wanted and what to do."""


class RunError(Exception):
    """Base of the runner's errors; its text is a sentence for a person."""


class GoBack(Exception):  # noqa: N818  a wish of the technician, not an error
    """The technician wants the step before."""


class StopTest(Exception):  # noqa: N818  a wish of the technician, not an error
    """The technician wants to stop; `why` goes on the record."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class MissingReading(Exception):  # noqa: N818  decides a branch, is not a failure
    """A step cannot be judged because an earlier one was not read; `reading` names that step, when it is known."""

    def __init__(self, why: str, reading: str | None) -> None:
        super().__init__(why)
        self.reading = reading
