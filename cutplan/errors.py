"""The one base of every error this project raises on purpose."""


class CutplanError(Exception):
    """Base of all errors meant for a person; ``str()`` of one is what the person reads."""
