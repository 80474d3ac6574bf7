"""What leaves the tool: the terminal view, JSON, the saw-list workbook and its CSV, job templates, paper wraps.

Each module imports its own library (rich, openpyxl, reportlab) and is imported by the command that needs it. Nothing
here works out a length or a plan, and nothing here reads a job.
"""

CAUTION: tuple[str, ...] = (
    "This plan deals with lengths and stock only. It says nothing about strength or about what is legal.",
    "Check the rules for what you build: for a vehicle the rule book of its class, for a rail, a gate or a rack the "
    "local codes. Ask a licensed engineer or the scrutineer before it carries a person or a load.",
    "Wear eye, ear and lung protection; keep the guards fitted; clamp the tube. Vent closed tubes before welding.",
    "Measure again before each cut: check the mark, the length, and what is left of the bar.",
)
"""Whole sentences, one thought each."""

SHORT_CAUTION = (
    "Lengths and stock only: not strength, not legality. Check the rule book, local codes and a licensed engineer or "
    "scrutineer. Eyes, ears, lungs, guards; vent closed tubes before welding. Measure again before each cut."
)
