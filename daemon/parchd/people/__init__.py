"""Whom to tell of what, and when: people, their hours, who comes next, and what goes together; pure."""
