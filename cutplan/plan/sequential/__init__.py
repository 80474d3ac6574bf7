"""Pieces fitted one at a time: an order of cuts in which each mistake is made good before the next cut."""
