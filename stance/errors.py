"""The errors a coach can meet. Each message is a sentence: what is wrong, and what to do."""


class StanceError(Exception):
    """Base of all errors that end a run; the message is shown to the coach as it stands."""

    exit_code = 1


class InputError(StanceError):
    """A clip, court file or roster can't be read or is not what it says it is."""

    exit_code = 3


class OutputError(StanceError):
    """The output folder, a file in it or a temporary file can't be written."""

    exit_code = 3


class NothingToAssess(StanceError):
    """The clip was read, but holds no player or no ready position."""

    exit_code = 4
