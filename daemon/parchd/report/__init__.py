"""How alarms did over a span of time: what was told to whom, how often, how long it stood, beside what is published."""
