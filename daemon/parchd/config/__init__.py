"""The TOML configuration: read, checked, and compiled into what the core works with."""
