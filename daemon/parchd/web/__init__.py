"""Pages behind links in messages, and the interface for programs; loaded only where ``[web]`` is configured."""
