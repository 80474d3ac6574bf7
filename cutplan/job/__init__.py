"""What is to be made: a job's tables read, checked and turned into frozen dataclasses; units; mass.

Works out no blank and no plan. :func:`read` is the way in; the dataclasses live in :mod:`cutplan.job.model`, faults in
:mod:`cutplan.job.faults`, the list of sheets and headings in :mod:`cutplan.job.schema`.
"""

from cutplan.job.read import Reading, read
from cutplan.job.units import parse_length, show_length, to_units

__all__ = ["Reading", "parse_length", "read", "show_length", "to_units"]
