"""A job to a plan: grid, spares, buying options, order of cuts, what to do if one is spoilt, and the check of a
plan from scratch. It solves nothing itself (see ``nesting``) and shows nothing (see ``output``)."""

from cutplan.plan.model import NoPlanInTimeError, Plan, StockError, WrongPlanError
from cutplan.plan.planner import make_plan
from cutplan.plan.prepare import Prepared, prepare
from cutplan.plan.problem import Limits
from cutplan.plan.verify.proof import complaints, length_complaints, proved

__all__ = [
    "Limits",
    "NoPlanInTimeError",
    "Plan",
    "Prepared",
    "StockError",
    "WrongPlanError",
    "complaints",
    "length_complaints",
    "make_plan",
    "prepare",
    "proved",
]
