"""Proofs of a plan in plain arithmetic, by code that shares nothing with the search or the planner."""
