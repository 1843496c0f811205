"""Questions to whoever sits at the terminal."""

import sys


def ask(question: str) -> str | None:
    """Show a question and read one line; ``None`` when there is none (Ctrl-D).

    The question goes to standard error, so that standard output can be sent into a file.
    """
    print(question, end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer:
        say("")
        return None
    return answer.strip()


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def somebody_is_there() -> bool:
    """Tell whether questions would be read and answered."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def print_safely(text: str) -> None:
    """Print what the terminal can show, and ``?`` for letters that it cannot."""
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding), end="")
