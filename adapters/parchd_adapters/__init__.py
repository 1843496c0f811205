"""Everything of parchd that touches the outside: sources, sinks and notifiers."""
