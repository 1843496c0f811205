"""How well the diagnosis does on seasons whose truth is known."""
