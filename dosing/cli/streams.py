"""Output streams that outlive their reader and have a letter for everything."""

from __future__ import annotations

import io
import os
from typing import TextIO

from dosing.words.letters import in_letters_of


class Patient(io.TextIOBase):
    """A stream that goes on quietly when its reader has left, so that the exit code stays right."""

    def __init__(self, stream: TextIO | None) -> None:
        # A process may be started without any output at all.
        self._stream: TextIO = io.StringIO() if stream is None else stream

    @property
    def encoding(self) -> str:  # type: ignore[override]  # an attribute there
        """That of the stream behind it."""
        return self._stream.encoding or "ascii"

    def isatty(self) -> bool:
        """Whether a terminal stands behind it."""
        return self._stream.isatty()

    def fileno(self) -> int:
        """Descriptor of the stream behind it."""
        return self._stream.fileno()

    def write(self, text: str) -> int:
        """Write, or drop what nobody reads."""
        try:
            return self._stream.write(in_letters_of(self.encoding, text))
        except BrokenPipeError:
            self._leave()
            return len(text)

    def flush(self) -> None:
        """Flush, or drop what nobody reads."""
        try:
            self._stream.flush()
        except BrokenPipeError:
            self._leave()

    def _leave(self) -> None:
        # The interpreter flushes the old descriptor once more when it ends.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)
