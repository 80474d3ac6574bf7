"""After cutting has begun: what was ticked, what is in hand, and the plan of the rest."""
