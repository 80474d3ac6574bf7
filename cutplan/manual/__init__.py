"""The manual: one Markdown page for each topic, kept in this folder and shown by ``cutplan manual``."""

from __future__ import annotations

from importlib import resources

TOPICS = {
    "job": "what goes into a job: every sheet, column and setting",
    "nodes": "a frame by named points: what lands on what, mirror halves, feet",
    "joints": "which side is which, with drawings; ends by hand and by points",
    "commands": "every command, option and exit code",
    "lengths": "how a blank's length is calculated, with the formulas",
    "plan": "what makes one plan better than another; what proven, spare, insured and fitted mean; buying options",
    "mistakes": "what to do when a blank is spoilt or a bar is missing, with a worked example",
    "stages": "a frame that becomes known while it is built: stages and estimates, with a worked example",
    "rack": "offcuts kept from one job to the next",
    "output": "the sheets of the saw-list workbook, and the JSON",
    "python": "the same from Python: import cutplan",
    "speed": "how fast it is, measured",
    "limits": "what it does not do",
}
"""Each topic in reading order, with what its page is about in one line."""


def page(topic: str) -> str:
    """The page on ``topic`` as Markdown. Raises KeyError for a topic that is not in :data:`TOPICS`."""
    if topic not in TOPICS:
        raise KeyError(topic)
    return resources.files(__name__).joinpath(f"{topic}.md").read_text(encoding="utf-8")
