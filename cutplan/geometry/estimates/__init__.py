"""How long a blank may come out whose numbers are in doubt, and how far its ends, bends and points may be."""
