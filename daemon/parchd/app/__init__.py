"""The running daemon: engine, threads, schedule and shutdown."""
