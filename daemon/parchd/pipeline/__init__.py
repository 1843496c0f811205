"""From samples to readings: pure stages without clock, logger or I/O."""
