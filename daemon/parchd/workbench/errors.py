"""What keeps a sheet from being drawn up."""

from parchd.contract import ParchdError


class SheetError(ParchdError, ValueError):
    """What was asked for cannot be built; the text says why and what to do."""
