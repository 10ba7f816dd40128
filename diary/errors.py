"""The one kind of error that reaches a person: a sentence saying what is wrong, where, and what to do."""


class DiaryError(Exception):
    """Bad input or a missing piece. `str(error)` is a whole sentence fit to be shown (or spoken) as it is."""
