"""Bytes cut into lines."""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Cut:
    """Whole lines, and the beginnings of lines that were too long."""

    lines: list[bytes] = field(default_factory=list)
    too_long: list[bytes] = field(default_factory=list)


class LineCutter:
    """Cuts at CR, LF or both; keeps no more than ``cap`` bytes of an unfinished line.

    After a line that is too long or was given up, everything up to the next line end is thrown away.
    """

    EXAMPLE_BYTES = 80

    def __init__(self, cap: int, *, mid_line: bool = False) -> None:
        self._cap = cap
        self._example = min(self.EXAMPLE_BYTES, cap)  # all of it is there whenever a line is found too long
        self._rest = bytearray()
        self._skipping = mid_line

    @property
    def held(self) -> int:
        """Bytes of the line that is not finished."""
        return len(self._rest)

    def feed(self, data: bytes) -> Cut:
        """Take bytes as they come; how they are cut into calls changes nothing."""
        cut = Cut()
        *ended, unended = data.replace(b"\r", b"\n").split(b"\n")
        for piece in ended:
            self._finish(piece, cut)
        self._hold(unended, cut)
        return cut

    def give_up(self) -> bytes:
        """Drop the unfinished line and what may follow of it; return how it began, or nothing."""
        begin = bytes(self._rest[: self.EXAMPLE_BYTES])
        if begin:
            self._skip()
        return begin

    def _finish(self, piece: bytes, cut: Cut) -> None:
        if self._skipping:
            self._skipping = False
            return
        line = bytes(self._rest) + piece
        self._rest.clear()
        if len(line) > self._cap:
            cut.too_long.append(line[: self._example])
        elif line:
            cut.lines.append(line)

    def _hold(self, piece: bytes, cut: Cut) -> None:
        if self._skipping:
            return
        if len(self._rest) + len(piece) > self._cap:
            cut.too_long.append((bytes(self._rest) + piece[: self._example])[: self._example])
            self._skip()
        else:
            self._rest += piece

    def _skip(self) -> None:
        self._rest.clear()
        self._skipping = True
