"""The one text of the caution that goes with every plan."""

CAUTION: tuple[str, ...] = (
    "This plan deals with lengths and stock only. It says nothing about strength or about what is legal.",
    "Check the rule book of the body that sanctions the event, the local codes, and ask a licensed engineer or the "
    "scrutineer before a frame carries a person or a load.",
    "Wear eye, ear and lung protection; keep the guards fitted; clamp the tube. Vent closed tubes before welding.",
    "Measure again before each cut: check the mark, the length, and what is left of the bar.",
)
"""Whole sentences, one thought each."""

SHORT_CAUTION = (
    "Lengths and stock only: not strength, not legality. Check the rule book, local codes and a licensed engineer or "
    "scrutineer. Eyes, ears, lungs, guards; vent closed tubes before welding. Measure again before each cut."
)
