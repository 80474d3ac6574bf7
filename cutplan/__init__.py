"""Blank lengths, bars to buy, spares and a saw list for frames welded from round tube."""

__version__ = "0.1.0"
